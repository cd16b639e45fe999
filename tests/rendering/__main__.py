"""Make rendered photographs: `python -m tests.rendering fitting --seed 100 --out DIR …`."""

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.fitting_picture import fitting_picture
from tests.rendering.hard import with_hardships
from tests.rendering.page import Artwork, load_artwork
from tests.rendering.pairs import second_photo
from tests.rendering.port_collar import rings_of
from tests.rendering.port_pairs import second_port_photo
from tests.rendering.port_picture import PortEffort, port_picture
from tests.rendering.port_scenes import PortConditions, PortScene, draw_port_scene
from tests.rendering.port_truth import port_truth
from tests.rendering.route_picture import route_picture, route_truth
from tests.rendering.routes import RouteScene, Wanted, draw_route_scene
from tests.rendering.scenes import Conditions, FittingScene, draw_fitting_scene
from tests.rendering.sensor import Development, develop, save_jpeg
from tests.rendering.tracer import load
from tests.rendering.truth import fitting_truth
from tests.rendering.unverified import with_unverified_print

Scene = TypeVar("Scene", FittingScene, PortScene, RouteScene)

_loaded: dict[str, Any] = {}


def _conditions(artwork: Artwork, options: argparse.Namespace) -> Conditions:
    layout = artwork.layout
    lights = {} if not options.lights else {"lights": tuple(options.lights.split(","))}
    return Conditions(
        page_mm=artwork.page_mm,
        bed_centre_mm=tuple(layout["bed"]["centre_mm"]),
        bed_size_mm=tuple(layout["bed"]["size_mm"]),
        distance_mm=tuple(layout["shoot"]["distance_mm"]),
        tilt_deg=tuple(layout["shoot"]["tilt_deg"]),
        scale_px=float(np.sqrt(options.megapixels / 12)),
        thread=options.thread,
        hand=options.hand,
        **lights,
    )


def _tools(options: argparse.Namespace) -> tuple[Any, Artwork]:
    """The path tracer and the print, once a process."""
    if "mi" not in _loaded:
        cv2.setNumThreads(options.threads)
        _loaded["mi"] = load(options.variant)
        _loaded["art"] = load_artwork(Path(options.print), Path(options.layout))
    return _loaded["mi"], _loaded["art"]


def _as_asked(scene: Scene, options: argparse.Namespace) -> Scene:
    """The scene with the quality of JPEG that is wanted."""
    if not options.quality:
        return scene
    return replace(scene, development=replace(scene.development, quality=options.quality))


def _note(base: Path, truth: dict[str, Any]) -> None:
    """Put the truth beside the pictures: it is there when they are."""
    base.with_suffix(".json").write_text(json.dumps(truth, indent=1), "utf-8")


def _write(
    base: Path, light: NDArray[np.float32], development: Development, truth: dict[str, Any]
) -> None:
    """Develop a linear picture whose paper is at the wanted level; its truth beside it."""
    save_jpeg(base.with_suffix(".jpg"), develop(light, development), development)
    _note(base, truth)


def _base(options: argparse.Namespace, seed: int) -> Path:
    return Path(options.out) / (options.name or f"{options.kind}_{seed:05d}")


def _one_fitting(seed: int, options: argparse.Namespace) -> str:
    mi, artwork = _tools(options)
    begun, base = time.perf_counter(), _base(options, seed)
    conditions = _conditions(artwork, options)
    scene = _as_asked(draw_fitting_scene(seed, conditions), options)
    if options.unverified:
        scene = with_unverified_print(scene)
    if options.hard:
        scene = with_hardships(scene, conditions)
    photos = [scene]
    if options.photos == 2:
        photos.append(second_photo(scene, conditions))
    for number, photo in enumerate(photos, 1):
        picture = fitting_picture(mi, photo, artwork, options.spp)
        light = picture.light * np.float32(photo.development.paper_level / picture.paper)
        name = base.name if len(photos) == 1 else f"{base.name}_{number}"
        stored = develop(light, photo.development)
        save_jpeg(base.with_name(f"{name}.jpg"), stored, photo.development)
    _note(base, fitting_truth(photos, options.split))
    what = f"{seed}: {scene.thread.designation}, {scene.finish.metal}, {scene.light.kind}"
    return f"{what}: {time.perf_counter() - begun:.1f} s"


def _one_route(seed: int, options: argparse.Namespace) -> str:
    cv2.setNumThreads(options.threads)
    if "art" not in _loaded:
        _loaded["art"] = load_artwork(Path(options.print), Path(options.layout))
    artwork, begun = _loaded["art"], time.perf_counter()
    scale = float(np.sqrt(options.megapixels / 12))
    wanted = Wanted(options.length or None, options.line, options.sheets)
    scene = _as_asked(draw_route_scene(seed, artwork, scale, wanted), options)
    light = route_picture(scene, artwork)
    light *= np.float32(scene.development.paper_level / 0.8)
    truth = route_truth(scene, options.split)
    _write(_base(options, seed), light, scene.development, truth)
    done = time.perf_counter() - begun
    return f"{seed}: {scene.line.kind}, {scene.line.length_mm:.0f} mm: {done:.1f} s"


def _port_conditions(artwork: Artwork, options: argparse.Namespace) -> PortConditions:
    shoot = artwork.layout["shoot"]
    slant = [float(part) for part in options.slant.split("-")] if options.slant else []
    lights = {} if not options.lights else {"lights": tuple(options.lights.split(","))}
    return PortConditions(
        rings=rings_of(artwork),
        distance_mm=tuple(shoot["distance_mm"]),
        tilt_deg=tuple(shoot["tilt_deg"]),
        slant_deg=(slant[0], slant[-1]) if slant else None,
        scale_px=float(np.sqrt(options.megapixels / 12)),
        thread=options.thread,
        face=options.face,
        hand=options.hand,
        **lights,
    )


def _one_port(seed: int, options: argparse.Namespace) -> str:
    mi, artwork = _tools(options)
    begun = time.perf_counter()
    conditions, base = _port_conditions(artwork, options), _base(options, seed)
    scene = _as_asked(draw_port_scene(seed, conditions), options)
    photos = [scene] if options.photos == 1 else [scene, second_port_photo(scene, conditions)]
    spp = options.spp
    effort = PortEffort(
        bore_spp=spp,
        print_spp=max(49, 3 * spp),
        collar_spp=max(4, spp // 4),
        far_spp=max(4, spp // 6),
    )
    for number, photo in enumerate(photos, 1):
        picture = port_picture(mi, photo, artwork, effort)
        light = picture.light * np.float32(photo.development.paper_level / picture.paper)
        own = base if len(photos) == 1 else base.with_name(f"{base.name}_{number}")
        _write(own, light, photo.development, port_truth(photo, options.split))
    what = f"{seed}: {scene.thread.designation}, {scene.metal}, {scene.face.kind}"
    return f"{what}, {scene.light.kind}: {time.perf_counter() - begun:.1f} s"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.rendering", description=__doc__)
    parser.add_argument("kind", choices=["fitting", "port", "route"])
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--count", type=int, default=1)
    parser.add_argument("--out", required=True)
    parser.add_argument("--print", required=True, help="the page as PNG")
    parser.add_argument("--layout", required=True, help="its layout file")
    parser.add_argument("--megapixels", type=float, default=12)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--spp", type=int, default=49)
    parser.add_argument("--thread", default="", help="this designation instead of a drawn one")
    parser.add_argument("--hand", choices=["left", "right", "draw"], default="draw")
    parser.add_argument("--photos", type=int, choices=[1, 2], default=1, help="of each part")
    parser.add_argument("--unverified", action="store_true", help="a print nobody measured")
    parser.add_argument("--hard", action="store_true", help="oil, torch, hands and the like")
    parser.add_argument("--slant", default="", help="of a port's photo, degrees: 45, 40-50, 0-4")
    parser.add_argument("--face", default="", help="round a port: machined, cast or painted")
    parser.add_argument("--lights", default="", help="comma-separated kinds to draw from")
    parser.add_argument("--line", default="", help="this kind of line instead of a drawn one")
    parser.add_argument("--length", type=float, default=0, help="of the route, mm; 0: drawn")
    parser.add_argument("--sheets", type=int, default=1, help="copies of a sheet beside a route")
    parser.add_argument("--quality", type=int, default=0, help="of the JPEG; 0: drawn")
    parser.add_argument("--name", default="", help="of the files, instead of kind and seed")
    parser.add_argument("--split", default="tune")
    parser.add_argument("--variant", default="llvm_ad_rgb")
    return parser


def main() -> None:
    """Render the scenes asked for, skipping those that are there."""
    parser = _parser()
    options = parser.parse_args()
    if options.hard and options.photos == 2:
        parser.error("hard scenes are single photos")
    Path(options.out).mkdir(parents=True, exist_ok=True)
    wanted = [
        seed
        for seed in range(options.seed, options.seed + options.count)
        if not _base(options, seed).with_suffix(".json").exists()
    ]
    one = {"fitting": _one_fitting, "port": _one_port, "route": _one_route}[options.kind]
    if options.jobs <= 1:
        for seed in wanted:
            print(one(seed, options), flush=True)
        return
    with ProcessPoolExecutor(options.jobs) as pool:
        for line in pool.map(one, wanted, [options] * len(wanted)):
            print(line, flush=True)


if __name__ == "__main__":
    main()
