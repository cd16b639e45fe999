"""Joint solve of lens and reference: where the camera stood, and how well that is known.

Frames: `px` upright photo, x right, y down, (0, 0) the centre of the top left pixel; `ray`
undistorted, z = 1; `camera` x right, y down, z forward; `page` origin at the page's top left,
x right, y down; `sheet` origin at the middle of the first reference found, x right, y up, z out
of the paper; `thread` z along the axis from the free end.
"""

from photomeasure.scene.learn import learn_lens
from photomeasure.scene.scale import BarReading, PageScale, page_scale
from photomeasure.scene.solve import solve_scenes
from photomeasure.scene.view import Scene

__all__ = ["BarReading", "PageScale", "Scene", "learn_lens", "page_scale", "solve_scenes"]
