"""Scan files: three formats alike, cleaned to one outward piece, every bad one in a sentence."""

import builtins

import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose

from sitwell.base.errors import HeadError
from sitwell.scene import scan_file
from sitwell.scene.scan_file import Surface, cleaned, load_scan


def ball(radius=1.0, middle=(0.0, 0.0, 0.0), divisions=4):
    mesh = trimesh.creation.icosphere(subdivisions=divisions, radius=radius)
    return mesh.vertices + np.array(middle), mesh.faces


def surface(vertices, triangles):
    return Surface(
        vertices=np.asarray(vertices, dtype=np.float64),
        triangles=np.asarray(triangles, dtype=np.int32),
        tone=np.ones(len(vertices)),
    )


def volume(found):
    a, b, c = found.vertices[found.triangles].transpose(1, 0, 2)
    return (a * np.cross(b, c)).sum() / 6.0


@pytest.mark.parametrize("suffix", [".obj", ".ply", ".glb"])
def test_three_formats_give_the_same_surface(tmp_path, suffix):
    vertices, triangles = ball()
    path = tmp_path / f"ball{suffix}"
    trimesh.Trimesh(vertices, triangles, process=False).export(path)
    found = load_scan(path)
    assert len(found.triangles) == len(triangles)
    assert_allclose(np.linalg.norm(found.vertices, axis=1), 1.0, atol=1e-3)
    assert volume(found) == pytest.approx(4.0 / 3.0 * np.pi, rel=0.01)
    assert_allclose(found.tone, 1.0)


def test_a_scan_s_own_colours_are_kept_as_brightness(tmp_path):
    vertices, triangles = ball()
    colours = np.full((len(vertices), 4), 255, dtype=np.uint8)
    colours[vertices[:, 1] > 0, :3] = 51
    path = tmp_path / "coloured.ply"
    trimesh.Trimesh(vertices, triangles, vertex_colors=colours, process=False).export(path)
    found = load_scan(path)
    assert_allclose(found.tone[found.vertices[:, 1] > 0.1], 0.2, atol=0.01)
    assert_allclose(found.tone[found.vertices[:, 1] < -0.1], 1.0, atol=0.01)


def test_dust_goes_and_what_is_inside_out_is_turned():
    vertices, triangles = ball()
    speck, speck_triangles = ball(0.03, (2.0, 0.0, 0.0), divisions=1)
    both = np.concatenate([vertices, speck])
    every = np.concatenate([triangles[:, ::-1], speck_triangles[:, ::-1] + len(vertices)])
    found = cleaned(surface(both, every), "both.ply")
    assert found.vertices[:, 0].max() < 1.01
    assert volume(found) > 0


def test_doubled_corners_are_joined():
    vertices, triangles = ball()
    torn = vertices[triangles].reshape(-1, 3)
    found = cleaned(surface(torn, np.arange(len(torn)).reshape(-1, 3)), "torn.obj")
    assert len(found.vertices) == len(vertices)


def test_a_fine_scan_is_thinned():
    vertices, triangles = ball(divisions=7)
    found = cleaned(surface(vertices, triangles), "fine.ply")
    assert len(found.triangles) < len(triangles)
    assert_allclose(np.linalg.norm(found.vertices, axis=1), 1.0, atol=1e-3)


def test_corners_without_a_place_go():
    vertices, triangles = ball()
    vertices = np.array(vertices)
    vertices[5] = np.nan
    found = cleaned(surface(vertices, triangles), "hole.ply")
    assert np.isfinite(found.vertices).all()
    assert len(triangles) - 7 < len(found.triangles) < len(triangles)


@pytest.mark.parametrize("far", [1e300, np.inf, -np.inf])
def test_a_corner_beyond_any_unit_goes_like_one_without_a_place(far):
    vertices, triangles = ball()
    vertices = np.array(vertices)
    vertices[5, 0] = far
    found = cleaned(surface(vertices, triangles), "far.ply")
    assert np.abs(found.vertices).max() < 1.1


def test_a_stray_point_that_hides_the_surface_is_said():
    vertices, triangles = ball()
    vertices = np.array(vertices)
    vertices[5] = 1e8
    with pytest.raises(HeadError) as problem:
        cleaned(surface(vertices, triangles), "stray.ply")
    assert str(problem.value) == (
        "The scan 'stray.ply' has stray points far from its surface; remove them and export it "
        "again."
    )


def test_every_bad_file_is_one_sentence(tmp_path, monkeypatch):
    def said(path):
        with pytest.raises(HeadError) as problem:
            load_scan(path)
        return str(problem.value)

    assert said(tmp_path / "head.stl") == (
        "'head.stl' is no scan that can be read; give an OBJ, PLY or GLB file."
    )
    assert said(tmp_path / "gone.ply").startswith("There is no scan '")
    empty = tmp_path / "empty.ply"
    empty.touch()
    assert said(empty) == "The scan 'empty.ply' is empty (0 bytes); export it again."
    for name, content in (("noise.glb", b"\x00\x01broken" * 9), ("noise.ply", b"ply\nbroken")):
        (tmp_path / name).write_bytes(content)
        assert said(tmp_path / name) == (
            f"The scan '{name}' is damaged or holds no surface; export it again as OBJ, PLY or GLB."
        )
    points = tmp_path / "points.ply"
    trimesh.PointCloud(ball()[0]).export(points)
    assert "points.ply' " in said(points)
    few = tmp_path / "few.obj"
    trimesh.creation.box().export(few)
    assert said(few) == (
        "The scan 'few.obj' has 12 triangles, too few for a face; export its surface, not only "
        "its points, at a finer setting."
    )
    fine = tmp_path / "fine.ply"
    trimesh.Trimesh(*ball(), process=False).export(fine)
    monkeypatch.setattr(scan_file, "MOST_TRIANGLES", 1000)
    assert said(fine) == (
        "The scan 'fine.ply' has 5120 triangles, more than the 1000 that can be read; export it "
        "at a coarser setting."
    )


def test_without_trimesh_it_says_what_to_install(tmp_path, monkeypatch):
    path = tmp_path / "ball.ply"
    trimesh.Trimesh(*ball(), process=False).export(path)
    usual = builtins.__import__

    def without(name, *rest, **more):
        if name == "trimesh":
            raise ImportError(name)
        return usual(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(HeadError, match=r"not installed; run 'pip install sitwell\[scan\]' once"):
        load_scan(path)
