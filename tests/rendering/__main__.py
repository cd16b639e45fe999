"""Make rendered photographs: `python -m tests.rendering fitting --seed 100 --out DIR …`."""

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.compose import Effort, picture_of
from tests.rendering.materials import dirt_of, turned_normals
from tests.rendering.page import Artwork, load_artwork
from tests.rendering.port_collar import rings_of
from tests.rendering.port_picture import PortEffort, port_picture
from tests.rendering.port_scenes import PortConditions, PortScene, draw_port_scene
from tests.rendering.port_truth import port_truth
from tests.rendering.route_picture import route_picture, route_truth
from tests.rendering.routes import RouteScene, Wanted, draw_route_scene
from tests.rendering.scenes import Conditions, FittingScene, draw_fitting_scene
from tests.rendering.sensor import develop, save_jpeg
from tests.rendering.tracer import Body, load
from tests.rendering.truth import fitting_truth

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


def part_body(scene: FittingScene) -> Body:
    """The fitting's mesh as it lies on the sheet, with turning marks and dirt."""
    mesh, size = scene.mesh, scene.fitting.size
    turn, shift = scene.sheet_from_thread[:3, :3], scene.sheet_from_thread[:3, 3]
    dirt = dirt_of(
        mesh, scene.finish, size.minor_mm / 2, size.major_mm / 2, scene.fitting.ends.length_mm
    )
    normals = turned_normals(mesh, scene.finish)
    return Body(mesh.vertices_mm @ turn.T + shift, normals @ turn.T, mesh.faces, dirt=dirt)


def _tools(options: argparse.Namespace) -> tuple[Any, Artwork]:
    """The path tracer and the print, once a process."""
    if "mi" not in _loaded:
        cv2.setNumThreads(options.threads)
        _loaded["mi"] = load(options.variant)
        _loaded["art"] = load_artwork(Path(options.print), Path(options.layout))
    return _loaded["mi"], _loaded["art"]


def _write(
    options: argparse.Namespace,
    scene: FittingScene | PortScene | RouteScene,
    light: NDArray[np.float32],
    truth: dict[str, Any],
) -> None:
    """Develop a linear picture whose paper is at the wanted level, and put its truth beside it."""
    development = scene.development
    if options.quality:
        development = replace(development, quality=options.quality)
        truth["development"]["quality"] = options.quality
    base = _base(options, scene.seed)
    save_jpeg(base.with_suffix(".jpg"), develop(light, development), development)
    base.with_suffix(".json").write_text(json.dumps(truth, indent=1), "utf-8")


def _base(options: argparse.Namespace, seed: int) -> Path:
    return Path(options.out) / (options.name or f"{options.kind}_{seed:05d}")


def _one_fitting(seed: int, options: argparse.Namespace) -> str:
    mi, artwork = _tools(options)
    begun = time.perf_counter()
    scene = draw_fitting_scene(seed, _conditions(artwork, options))
    world = (scene.camera, scene.sheet, artwork, scene.light, scene.bench)
    spp = options.spp
    effort = Effort(part_spp=spp, near_spp=max(36, spp), far_spp=max(48, spp))
    picture = picture_of(mi, part_body(scene), scene.finish, world, effort)
    traced = time.perf_counter()
    light = picture.light * np.float32(scene.development.paper_level / picture.paper)
    _write(options, scene, light, fitting_truth(scene, options.split))
    done = time.perf_counter()
    what = f"{seed}: {scene.thread.designation}, {scene.finish.metal}, {scene.light.kind}"
    return f"{what}: traced {traced - begun:.1f} s, in all {done - begun:.1f} s"


def _one_route(seed: int, options: argparse.Namespace) -> str:
    cv2.setNumThreads(options.threads)
    if "art" not in _loaded:
        _loaded["art"] = load_artwork(Path(options.print), Path(options.layout))
    artwork, begun = _loaded["art"], time.perf_counter()
    scale = float(np.sqrt(options.megapixels / 12))
    wanted = Wanted(options.length or None, options.line, options.sheets)
    scene = draw_route_scene(seed, artwork, scale, wanted)
    light = route_picture(scene, artwork)
    light *= np.float32(scene.development.paper_level / 0.8)
    _write(options, scene, light, route_truth(scene, options.split))
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
    scene = draw_port_scene(seed, _port_conditions(artwork, options))
    spp = options.spp
    effort = PortEffort(
        bore_spp=spp,
        print_spp=max(49, 3 * spp),
        collar_spp=max(4, spp // 4),
        far_spp=max(4, spp // 6),
    )
    picture = port_picture(mi, scene, artwork, effort)
    traced = time.perf_counter()
    light = picture.light * np.float32(scene.development.paper_level / picture.paper)
    _write(options, scene, light, port_truth(scene, options.split))
    done = time.perf_counter()
    what = f"{seed}: {scene.thread.designation}, {scene.metal}, {scene.face.kind}"
    seconds = f"traced {traced - begun:.1f} s, in all {done - begun:.1f} s"
    return f"{what}, {scene.light.kind}: {seconds}"


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
    options = _parser().parse_args()
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
