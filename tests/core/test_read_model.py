"""3MF files read: our own, those that lib3mf writes, and the standard's finer points.

The standard's rules are those of the 3MF Core Specification 1.4.0 (2025), from memory.
"""

from __future__ import annotations

import io
import zipfile
from typing import Any

import lib3mf
import numpy as np
import pytest
import trimesh
from borewright.core.threemf.read_model import read_model
from borewright.core.threemf.write_model import ModelObject, model_bytes
from borewright.core.values import Mesh
from lib3mf import get_wrapper
from numpy.typing import NDArray

from tests.models_3mf import (
    CORE,
    CORNERS,
    FACES,
    ITEM,
    OBJECT,
    RELATIONS,
    START,
    TETRAHEDRON,
    TYPES,
    mesh_in,
    mesh_text,
    model_text,
    package,
    transform,
    written_by_lib3mf,
)
from tests.parts import plain_tube, turned_pose

FloatArray = NDArray[np.float64]

VOLUME = 9.0**3 / 6.0


def corners_of(mesh: Mesh) -> FloatArray:
    return mesh.vertices[mesh.triangles]


def volume(mesh: Mesh) -> float:
    a, b, c = (corners_of(mesh)[:, k] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0


def moved(points: FloatArray, matrix: FloatArray) -> FloatArray:
    result: FloatArray = points @ matrix[:3, :3].T + matrix[:3, 3]
    return result


def float32(points: FloatArray) -> FloatArray:
    return points.astype(np.float32).astype(np.float64)


# What we write ourselves


def test_what_was_written_is_read_as_it_was() -> None:
    tube = plain_tube(length=150.0).mesh
    tube.apply_translation(-tube.bounds[0])
    piece = Mesh(float32(tube.vertices), tube.faces)
    second = np.eye(4)
    second[:3, 3] = 40.0, 0.25, 0.0
    read = read_model(model_bytes([ModelObject("a", piece, np.eye(4)),
                                   ModelObject("b", piece, second)]))  # fmt: skip
    assert (read.unit.unit, read.unit.scale_to_mm, read.remarks) == ("mm", 1.0, ())
    first, other = np.split(corners_of(read.mesh), 2)
    assert np.array_equal(first, corners_of(piece))
    expected = moved(corners_of(piece), second)
    step = np.spacing(np.abs(expected).astype(np.float32))
    assert (np.abs(other - expected) <= step).all()  # nine digits may round to either side


# What lib3mf writes


@pytest.mark.parametrize(
    ("unit", "name", "scale_to_mm"),
    [  # lengths of the international units: BIPM, SI brochure; the foot of 1959, 0.3048 m
        (lib3mf.ModelUnit.MicroMeter, "micron", 0.001),
        (lib3mf.ModelUnit.MilliMeter, "mm", 1.0),
        (lib3mf.ModelUnit.CentiMeter, "cm", 10.0),
        (lib3mf.ModelUnit.Inch, "in", 25.4),
        (lib3mf.ModelUnit.Foot, "foot", 304.8),
        (lib3mf.ModelUnit.Meter, "m", 1000.0),
    ],
)
def test_each_unit_of_the_standard_is_known(unit: Any, name: str, scale_to_mm: float) -> None:
    model = get_wrapper().CreateModel()
    model.SetUnit(unit)
    model.AddBuildItem(mesh_in(model), transform(np.eye(4)))
    read = read_model(written_by_lib3mf(model))
    assert (read.unit.unit, read.unit.scale_to_mm) == (name, scale_to_mm)
    assert np.array_equal(corners_of(read.mesh), CORNERS[FACES])


def nested_model() -> tuple[Any, list[FloatArray]]:
    """A group of a group, in the build twice, and where its meshes then stand."""
    inner, around, first, second = (
        turned_pose(axis, angle, shift)
        for axis, angle, shift in (
            ((0.0, 0.0, 1.0), 30.0, (5.0, 0.0, 0.0)), ((1.0, 0.0, 0.0), 90.0, (0.0, 7.0, 0.0)),
            ((0.0, 1.0, 1.0), 20.0, (100.0, 0.0, 0.0)), ((0.0, 0.0, 1.0), 0.0, (0.0, 0.0, 50.0)),
        )
    )  # fmt: skip
    model = get_wrapper().CreateModel()
    mesh = mesh_in(model)
    group = model.AddComponentsObject()
    group.AddComponent(mesh, transform(inner))
    group.AddComponent(mesh, transform(np.eye(4)))
    outer = model.AddComponentsObject()
    outer.AddComponent(group, transform(around))
    for item in (first, second):
        model.AddBuildItem(outer, transform(item))
    return model, [item @ around @ one for item in (first, second) for one in (inner, np.eye(4))]


def test_groups_in_groups_stand_where_all_their_transforms_lead() -> None:
    model, places = nested_model()
    mesh = read_model(written_by_lib3mf(model)).mesh
    expected = np.concatenate([moved(CORNERS[FACES], place) for place in places])
    assert np.abs(corners_of(mesh) - expected).max() < 1e-5  # its transforms are float32
    assert volume(mesh) == pytest.approx(4.0 * VOLUME, rel=1e-6)


def test_trimesh_has_the_same_groups_in_the_same_places() -> None:
    data = written_by_lib3mf(nested_model()[0])
    theirs = trimesh.load(io.BytesIO(data), file_type="3mf").to_geometry()
    ours = read_model(data).mesh
    assert np.abs(np.sort(corners_of(ours).mean(axis=1), axis=0)
                  - np.sort(theirs.triangles.mean(axis=1), axis=0)).max() < 1e-5  # fmt: skip


@pytest.mark.parametrize("at", ["item", "component", "both"])
def test_what_is_mirrored_still_faces_outward(at: str) -> None:
    mirror, plain = np.diag([-1.0, 1.0, 1.0, 1.0]), np.eye(4)
    model = get_wrapper().CreateModel()
    group = model.AddComponentsObject()
    group.AddComponent(mesh_in(model), transform(plain if at == "item" else mirror))
    model.AddBuildItem(group, transform(plain if at == "component" else mirror))
    mesh = read_model(written_by_lib3mf(model)).mesh
    assert volume(mesh) == pytest.approx(VOLUME, rel=1e-6)
    reach = mesh.vertices[:, 0]
    assert (reach.min(), reach.max()) == ((0.0, 9.0) if at == "both" else (-9.0, 0.0))


@pytest.mark.parametrize("kind", ["SolidSupport", "Support", "Surface"])
def test_what_is_not_of_type_model_is_left_out_and_told(kind: str) -> None:
    model = get_wrapper().CreateModel()
    for shift, one in ((0.0, "Model"), (50.0, kind)):
        mesh = mesh_in(model)
        mesh.SetType(getattr(lib3mf.ObjectType, one))
        model.AddBuildItem(mesh, transform(turned_pose((0, 0, 1), 0.0, (shift, 0, 0))))
    read = read_model(written_by_lib3mf(model))
    assert read.mesh.vertices[:, 0].max() == 9.0
    (remark,) = read.remarks
    assert remark == (
        f"1 of 2 items of the file were left out: of type '{kind.lower()}', not 'model'."
    )


def test_a_group_of_type_model_counts_with_what_is_in_it_whatever_its_type() -> None:
    group = '<object id="2"><components><component objectid="1"/></components></object>'
    inner = OBJECT.replace("<object ", '<object type="other" ')
    read = read_model(package(model_text(inner + group, '<item objectid="2"/>')))
    assert len(read.mesh.triangles) == 4
    assert read.remarks == ()


# Finer points


def read_corners(model: str | bytes, **more: Any) -> FloatArray:
    return corners_of(read_model(package(model, **more)).mesh)


@pytest.mark.parametrize(
    "model",
    [
        model_text(attributes='unit="millimeter" xml:lang="de-DE"'),
        model_text().replace('v1="0"', "v1 = ' 0 '").replace('x="9"', 'x="+.9e1"'),
        model_text().replace('x="9" y="0"', 'y="0" x="9.0"').replace(
            'v1="0" v2="2"', 'v2="2" v1="0"'
        ),
        model_text().replace('v3="1"', 'v3="1" pid="5" p1="0"').replace('z="9"', 'z="9" w="1"'),
        model_text().replace(">", ">\n\t ").replace("/>", " />"),
        model_text().replace("<vertex ", "<!-- a > b --><vertex ").replace(
            'z="9"/>', 'z="9"></vertex>'
        ),
        model_text(attributes='xmlns:m="urn:m" requiredextensions=""').replace(
            "<resources>",
            '<metadata name="Title">a &amp; b</metadata><resources><m:mesh><vertices/></m:mesh>',
        ),
        model_text(attributes='xmlns:m="urn:m" recommendedextensions="m"').replace(
            "</vertices>", f"</vertices><m:more><object xmlns='{CORE}' id='1'/>"
            f"<build xmlns='{CORE}'>{ITEM}</build></m:more>"
        ),
        model_text().replace("<model xmlns=", "<c:model xmlns:c=").replace("</", "</c:").replace(
            "<r", "<c:r").replace("<o", "<c:o").replace("<m", "<c:m").replace("<v", "<c:v").replace(
            "<t", "<c:t").replace("<b", "<c:b").replace("<i", "<c:i"),
        model_text().replace("UTF-8", "utf-8").encode("utf-8-sig"),
        model_text().replace("UTF-8", "UTF-16").encode("utf-16"),
        model_text().replace("UTF-8", "UTF-16").encode("utf-16-be").join([b"\xfe\xff", b""]),
        model_text().split("?>")[1],
        model_text().replace("<res", f"<metadata name='a'>{'a b' * 2_000_000}</metadata><res"),
        model_text(items=f'{ITEM[:-2]} transform="1 0 0 0 1 0 0 0 1 0 0 0" partnumber="7"/>'),
    ],
    ids=[
        "plain", "blanks and signs", "other order", "more attributes", "blank space", "comments",
        "other namespace", "the core's names inside an extension", "prefix", "byte order mark",
        "UTF-16", "UTF-16 big-endian", "no declaration", "a long text", "identity",
    ],
)  # fmt: skip
def test_the_same_model_said_otherwise_is_the_same(model: str | bytes) -> None:
    assert np.array_equal(read_corners(model), CORNERS[FACES])


@pytest.mark.parametrize(
    ("target", "name"),
    [
        ("/3D/3dmodel.model", "3D/3dmodel.model"),
        ("3D/3dmodel.model", "3D/3dmodel.model"),
        ("/3d/3DModel.MODEL", "3D/3dmodel.model"),
        ("/3D/../other/flute%20head.model", "other/flute head.model"),
        ("../../3D/a.model", "3D/a.model"),
    ],
)
def test_the_model_is_where_the_relationship_leads(target: str, name: str) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("_rels/.RELS", RELATIONS.format(
            START.format("/Metadata/a.png").replace("2013/01/3dmodel", "thumbnail")
            + START.format(target)))  # fmt: skip
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr(name, model_text())
    assert len(read_model(packed.getvalue()).mesh.triangles) == 4


def test_rows_beyond_one_batch_come_in_order() -> None:
    """Six words a row, 262,144 of them a batch."""
    count = 120_000
    rng = np.random.default_rng(3)
    points = float32(rng.random((count, 3)) * 100.0)
    faces = rng.integers(0, count, (count, 3))
    text = mesh_text(points, faces).replace('v1="', 'v="').replace('v2="', 'v1="')
    text = text.replace('v="', 'v2="')  # the second number first
    read = read_model(package(model_text(f'<object id="1">{text}</object>'))).mesh
    assert np.array_equal(read.vertices, points)
    assert np.array_equal(read.triangles, faces[:, [1, 0, 2]])


def test_two_objects_in_the_build_keep_their_order_and_their_own_vertices() -> None:
    second = OBJECT.replace('id="1"', 'id="7"').replace('x="9"', 'x="5"')
    items = '<item objectid="7"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 20 0 0"/>'
    corners = read_corners(model_text(OBJECT + second, items))
    smaller = np.where(CORNERS == [[9.0, 0, 0]], [[5.0, 0, 0]], CORNERS)[FACES]
    assert np.array_equal(corners, np.concatenate((smaller, CORNERS[FACES] + [20.0, 0.0, 0.0])))


def test_an_object_that_is_not_in_the_build_is_not_there() -> None:
    other = f'<object id="2">{TETRAHEDRON}</object>'
    assert len(read_corners(model_text(OBJECT + other))) == 4
