"""How long a preview takes on one core, against VTK and Embree drawing the same mesh as large.

    python -m benchmarks.bench_preview [seconds] [--width 640] [--height 800]

Ours: the sitter's own painted skin, soft shadows of sixteen points of the key, fill dimmed by the
head's own parts, eyes, edges of four samples. VTK draws the same triangles and normals with four
samples and one hard shadow map, or none; without a graphics card Mesa draws for it, as here.
Embree casts the rays of one sample a pixel and, from each hit, one to each point of the key, tree
built anew: the floor under any drawing by rays; nothing is coloured.
All in turns in one run, each a process's CPU time, so that other work on the machine disturbs less.

VTK is not among the tool's own needs: ``pip install vtk`` (BSD licence). Without it, it is left
out.
"""

import argparse
import statistics
import time
from collections.abc import Callable
from importlib import import_module
from typing import Any

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sitwell.head.surface import build_head
from sitwell.scene.key_maps import NORMAL_OFFSET_MM
from sitwell.scene.preview import Sculpture
from sitwell.scene.preview_shade import COLOUR, NORMAL, ON_RASTER, PLACE, Scene
from sitwell.scene.raster import rasterise
from sitwell.scene.setup import Setup

GOAL_MS = 60.0
SIZE_PX, MOVING_PX = (640, 800), (192, 240)
SETUPS = (
    Setup(),
    Setup(turn_deg=30.0, key_azimuth_deg=-45.0, key_elevation_deg=40.0, fill_ratio=4.0),
    Setup(turn_deg=-20.0, key_azimuth_deg=80.0, key_elevation_deg=10.0, key_size_mm=200.0),
    Setup(framing="tight-head", crop="into-forehead"),
)
Work = Callable[[], object]


def main() -> None:
    """Print each one's median, and the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seconds", type=float, nargs="?", default=30.0)
    parser.add_argument("--width", type=int, default=SIZE_PX[0])
    parser.add_argument("--height", type=int, default=SIZE_PX[1])
    asked = parser.parse_args()
    size = (asked.width, asked.height)
    sculpture = Sculpture(build_head())
    scene = sculpture.scene(SETUPS[1], *size)
    rivals = {
        f"ours, {size[0]} x {size[1]}": in_turn(sculpture, size),
        "ours, while a control moves": in_turn(sculpture, MOVING_PX),
        "Embree, rays only": embree(scene, size),
        **vtk_rivals(scene, size),
    }
    times_ms = compare(rivals, asked.seconds)
    ours_ms = next(iter(times_ms.values()))
    for name, time_ms in times_ms.items():
        print(f"{name:32s} {time_ms:7.1f} ms, {time_ms / ours_ms:5.2f} x ours")
    print(f"goal for ours at {SIZE_PX[0]} x {SIZE_PX[1]}: {GOAL_MS:.0f} ms")


def compare(rivals: dict[str, Work], seconds: float) -> dict[str, float]:
    """Median CPU milliseconds of each work, all in turns until the time is up."""
    times: dict[str, list[float]] = {name: [] for name in rivals}
    for work in rivals.values():
        work()  # compile, build
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for name, work in rivals.items():
            start = time.process_time()
            work()
            times[name].append(1e3 * (time.process_time() - start))
    return {name: statistics.median(values) for name, values in times.items()}


def in_turn(sculpture: Sculpture, size_px: tuple[int, int]) -> Work:
    """One picture of the next set-up at each call."""
    turn = iter(range(10**9))
    return lambda: sculpture.render(SETUPS[next(turn) % len(SETUPS)], *size_px)


def embree(scene: Scene, size_px: tuple[int, int]) -> Work:
    """First hits of all pixels of the scene, and from each a ray to every point of the key."""
    places = scene.traits[:, PLACE:NORMAL].astype(np.float32)
    triangles = scene.triangles
    aims, shown = pixel_aims(scene, size_px)
    lens = np.tile(scene.lens, (len(aims), 1)).astype(np.float32)
    facing = scene.traits[triangles[shown], NORMAL:COLOUR].mean(axis=1)
    from_mm = scene.traits[triangles[shown], PLACE:NORMAL].mean(axis=1)
    from_mm += NORMAL_OFFSET_MM * facing
    starts = np.tile(from_mm, (len(scene.lamps), 1)).astype(np.float32)
    towards = np.concatenate([point - from_mm for point in scene.lamps[:, 12:15]])
    towards = np.ascontiguousarray(towards, dtype=np.float32)

    def cast() -> None:
        traced = EmbreeScene()
        TriangleMesh(traced, places, triangles)
        traced.run(lens, aims)
        traced.run(starts, towards, query="OCCLUDED")

    return cast


def pixel_aims(
    scene: Scene, size_px: tuple[int, int]
) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """Directions (H * W, 3) from the lens through the pixels, and the triangles that are hit."""
    x, y, near = np.ascontiguousarray(scene.traits[:, ON_RASTER:].T)
    shown = np.empty(size_px[::-1], dtype=np.int32)
    every = np.arange(len(scene.triangles), dtype=np.int32)
    nearest, covered = np.empty(shown.shape), np.empty_like(every)
    rasterise(0.5 * x, 0.5 * y, near, scene.triangles, every, shown, nearest, covered)
    hit = shown >= 0
    aims = np.zeros((*shown.shape, 3))
    middles = scene.traits[scene.triangles, PLACE:NORMAL].mean(axis=1)
    aims[hit] = middles[shown[hit]] - scene.lens
    aims[~hit] = (0.0, 1.0, 0.0)  # past the head
    return aims.reshape(-1, 3).astype(np.float32), shown[hit]


def vtk_rivals(scene: Scene, size_px: tuple[int, int]) -> dict[str, Work]:
    """The mesh drawn by VTK, with and without a shadow; nothing where VTK is not installed."""
    try:
        vtk: Any = import_module("vtkmodules.all")
    except ImportError:
        print("VTK is left out: pip install vtk")
        return {}
    return {
        "VTK, no shadow": vtk_work(vtk, scene, size_px, shadow=False),
        "VTK, one hard shadow": vtk_work(vtk, scene, size_px, shadow=True),
    }


def vtk_work(vtk: Any, scene: Scene, size_px: tuple[int, int], *, shadow: bool) -> Work:
    """Draw the scene into memory, the camera a little aside at each call."""
    vtk.vtkLogger.SetStderrVerbosity(vtk.vtkLogger.VERBOSITY_OFF)
    renderer = vtk.vtkRenderer()
    renderer.AddActor(vtk_actor(vtk, scene))
    lamp = vtk.vtkLight()
    lamp.SetPosition(*scene.lamps[0, 12:15])
    lamp.SetFocalPoint(0.0, 0.0, 0.0)
    lamp.PositionalOn()
    lamp.SetConeAngle(40.0)
    renderer.AddLight(lamp)
    window = vtk.vtkRenderWindow()
    window.OffScreenRenderingOn()
    window.SetSize(*size_px)
    window.SetMultiSamples(4)
    window.AddRenderer(renderer)
    camera = renderer.GetActiveCamera()
    camera.SetPosition(*scene.lens)
    camera.SetFocalPoint(0.0, -60.0, 0.0)
    camera.SetViewAngle(20.0)
    renderer.ResetCameraClippingRange()
    if shadow:
        renderer.SetPass(vtk_shadow(vtk))
    pixels = vtk.vtkUnsignedCharArray()

    def draw() -> None:
        camera.Azimuth(1.0)
        window.Render()
        window.GetPixelData(0, 0, size_px[0] - 1, size_px[1] - 1, 1, pixels, 0)

    return draw


def vtk_actor(vtk: Any, scene: Scene) -> Any:
    """The scene's triangles with their normals and colours, matte."""
    arrays: Any = import_module("vtkmodules.util.numpy_support")
    mesh, points, cells = vtk.vtkPolyData(), vtk.vtkPoints(), vtk.vtkCellArray()
    points.SetData(arrays.numpy_to_vtk(scene.traits[:, PLACE:NORMAL].copy(), deep=True))
    corners = scene.triangles.astype(np.int64).ravel()
    cells.SetData(3, arrays.numpy_to_vtkIdTypeArray(corners, deep=True))
    mesh.SetPoints(points)
    mesh.SetPolys(cells)
    normals = arrays.numpy_to_vtk(scene.traits[:, NORMAL:COLOUR].copy(), deep=True)
    mesh.GetPointData().SetNormals(normals)
    colours = (255.0 * scene.traits[:, COLOUR : COLOUR + 3]).astype(np.uint8)
    mesh.GetPointData().SetScalars(arrays.numpy_to_vtk(colours, deep=True))
    mapper, actor = vtk.vtkPolyDataMapper(), vtk.vtkActor()
    mapper.SetInputData(mesh)
    actor.SetMapper(mapper)
    actor.GetProperty().SetSpecular(0.0)
    return actor


def vtk_shadow(vtk: Any) -> Any:
    """Passes that draw with one shadow map of 1024 pixels."""
    shadow, sequence, passes = (
        vtk.vtkShadowMapPass(),
        vtk.vtkSequencePass(),
        vtk.vtkRenderPassCollection(),
    )
    shadow.GetShadowMapBakerPass().SetResolution(1024)
    passes.AddItem(shadow.GetShadowMapBakerPass())
    passes.AddItem(shadow)
    sequence.SetPasses(passes)
    camera_pass = vtk.vtkCameraPass()
    camera_pass.SetDelegatePass(sequence)
    return camera_pass


if __name__ == "__main__":
    main()
