"""Does the hose fit its path? Bends, the straight behind each end, and clearance."""

import math

from photomeasure.sizing.checks import Check, at_least, interval, missing
from photomeasure.sizing.entries import Bend, EndEntry, HoseEntry, JobEntries, Measured, RouteEntry

__all__ = ["least_axis_radius_mm", "near_straight", "path_checks"]

_STRAIGHT_BEHIND_SOCKET = 1.5  # outside diameters: common practice, no source
_MOVING_MM, _EXHAUST_MM, _SHIELDED_MM = 25.0, 100.0, 75.0  # common practice, from memory
_STILL_MM = 0.5  # less is no movement
_STRAIGHT_DEG = 10.0  # below this turning a route shows no radius


def path_checks(job: JobEntries) -> tuple[Check, ...]:
    """All checks of the hose against its route.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of Check
    """
    return (
        _bend_radius(job),
        *_radius_when_shortest(job),
        *(_straight_behind(job, index) for index in range(len(job.ends))),
        _movement(job),
        _clearance(job),
    )


def least_axis_radius_mm(hose: HoseEntry) -> float | None:
    """Least bend radius to the hose's axis; a data sheet that does not say means the inside.

    Parameters
    ----------
    hose : HoseEntry

    Returns
    -------
    float [mm] or None
        None where the radius or the outside diameter it needs is missing.
    """
    if hose.bend_radius_mm is None:
        return None
    if hose.bend_radius_to == "axis":
        return hose.bend_radius_mm
    if hose.outside_diameter_mm is None:
        return None
    return hose.bend_radius_mm + hose.outside_diameter_mm / 2


def near_straight(route: RouteEntry) -> bool | None:
    """Say whether the route is as good as straight; None where nobody looked.

    Parameters
    ----------
    route : RouteEntry

    Returns
    -------
    bool or None
    """
    if route.turning is not None:
        return interval(route.turning)[1] < _STRAIGHT_DEG
    if route.near_straight is not None:
        return route.near_straight
    return False if route.bends else None


def _bend_radius(job: JobEntries) -> Check:
    name, route = "bend radius", job.route
    least = least_axis_radius_mm(job.hose)
    lacks = [] if least is not None else ["least bend radius and outside diameter of the hose"]
    tightest = route.tightest_radius if route else None
    if least is not None and route is not None:
        if tightest is not None:
            return _worst(
                at_least(name, tightest, least, "Tightest bend, to the hose's axis"),
                *(
                    at_least(name, bend.radius, least, f"Bend {number}, to the hose's axis")
                    for number, bend in enumerate(route.bends or (), start=1)
                ),
            )
        if near_straight(route):
            return Check(name, True, "The run is as good as straight.")
    if tightest is None:
        lacks.append("the tightest bend of the route")
    return missing(name, *lacks)


def _worst(*found: Check) -> Check:
    """Give the first check that failed, else the first that is open, else the first."""
    ranks = {False: 0, None: 1, True: 2}
    return min(found, key=lambda check: ranks[check.ok])


def _radius_when_shortest(job: JobEntries) -> tuple[Check, ...]:
    """Check the bend where the path is shortest; nothing where the ends do not move."""
    name, moved = "bend radius at the shortest path", job.movement
    if moved is None or interval(moved.shorter)[1] <= _STILL_MM:
        return ()
    least = least_axis_radius_mm(job.hose)
    if least is None:
        return (missing(name, "least bend radius and outside diameter of the hose"),)
    if moved.tightest_radius is None:
        return (missing(name, "the tightest bend's radius where the path is shortest"),)
    return (at_least(name, moved.tightest_radius, least, "Tightest bend, to the hose's axis"),)


def _straight_behind(job: JobEntries, index: int) -> Check:
    name = f"straight behind end {'AB'[index]}"
    end, hose, route = job.ends[index], job.hose, job.route
    if route is not None and near_straight(route):
        return Check(name, True, "The run is as good as straight.")
    if route is None or route.bends is None or hose.outside_diameter_mm is None:
        return missing(name, "the route's bends and the hose's outside diameter")
    if not route.bends:
        return Check(name, True, "The route has no bend.")
    reach = _socket_reach_mm(end)
    if reach is None:
        return missing(name, "how far the socket reaches from the seat (cut-off and socket depth)")
    straight = _first_straight(route, route.bends[-index], end, reach, from_start=index == 0)
    need = _STRAIGHT_BEHIND_SOCKET * hose.outside_diameter_mm
    return at_least(name, straight, need, "Straight before the first bend (common practice)")


def _socket_reach_mm(end: EndEntry) -> float | None:
    """Distance along the axis from the route's datum to the socket's rear edge."""
    if end.seat_to_socket is not None:
        return end.seat_to_socket.value
    if end.cut_off is None or end.socket_depth is None:
        return None
    return end.cut_off.value + end.socket_depth.value


def _first_straight(
    route: RouteEntry, bend: Bend, end: EndEntry, reach_mm: float, *, from_start: bool
) -> Measured:
    """Give the straight piece between an end's socket and the bend that is nearest to it."""
    half_angle = math.radians(bend.angle.value) / 2
    along = bend.at.value if from_start else route.length.value - bend.at.value
    offset = end.datum_offset.value if end.datum_offset else 0.0
    if end.datum == "port face" and end.stand_off is not None:
        offset -= end.stand_off.value
    value = along - bend.radius.value * half_angle + offset - reach_mm
    return Measured(value=value, u=math.hypot(bend.at.u, bend.radius.u * half_angle))


def _movement(job: JobEntries) -> Check:
    """Whether what lies between the two ends lets them move, and was moved."""
    name, moved = "movement", job.movement
    if job.mounts is None:
        return missing(
            name,
            "what lies between the two ends: soft or solid engine mounts, a linkage, or nothing",
        )
    most_mm = 0.0 if moved is None else max(interval(moved.longer)[1], interval(moved.shorter)[1])
    if job.mounts == "one part":
        if most_mm > _STILL_MM:
            return missing(name, "which is true: both ends on one part, or a path that changes")
        return Check(name, True, "Both ends sit on one part: they cannot move apart.")
    if job.mounts == "solid" and moved is None:
        return Check(name, True, "Solid mounts: the ends do not rock against each other.")
    moves = {"soft": "the engine levered each way on its soft mounts", "solid": "the full travel"}
    recipe = moves.get(job.mounts, "the linkage moved from lock to lock, wheels up and hanging")
    if moved is None or (job.mounts != "solid" and most_mm <= _STILL_MM):
        return missing(name, f"how much longer and shorter the path gets, {recipe}")
    longer, shorter = moved.longer.value, moved.shorter.value
    return Check(name, True, f"{longer:g} mm longer, {shorter:g} mm shorter ({moved.by}).")


def _clearance(job: JobEntries) -> Check:
    name = "clearance through full movement"
    seen = job.clearance
    if seen is None or not seen.full_travel:
        return missing(
            name,
            "a look along the whole path, engine levered each way, both locks, wheels up and down",
        )
    if not seen.length_change_tried:
        return missing(name, "the same look with the hose 2 % longer and 4 % shorter")
    if seen.moving_mm is None or seen.exhaust_mm is None:
        return missing(name, "least distance to moving parts and to the exhaust")
    against = _against_the_photos(job, seen.exhaust_mm)
    if against is not None:
        return missing(name, against)
    exhaust = _SHIELDED_MM if seen.exhaust_shielded else _EXHAUST_MM
    fine = seen.moving_mm >= _MOVING_MM and seen.exhaust_mm >= exhaust
    found = f"{seen.moving_mm:g} mm to moving parts, {seen.exhaust_mm:g} mm to the exhaust"
    limits = f"common practice: {_MOVING_MM:g} and {exhaust:g} mm"
    return Check(name, fine, f"{found} ({seen.by}; {limits}).")


def _against_the_photos(job: JobEntries, exhaust_mm: float) -> str | None:
    """Say where the photos of the route show the exhaust nearer than was entered."""
    for near in job.route.clearances if job.route else ():
        if "exhaust" not in near.name.casefold() or near.distance is None:
            continue
        most = interval(near.distance)[1]
        if most < exhaust_mm:
            measured = f"{near.distance.value:.0f} mm measured in the photos"
            return f"which is true: the {near.name} {exhaust_mm:g} mm off as entered, {measured}"
    return None
