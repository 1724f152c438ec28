"""3MF files that are damaged, wrong or hostile: each refused in its own words."""

from __future__ import annotations

import io
import itertools
import struct
import tracemalloc
import zipfile
from collections.abc import Callable

import numpy as np
import pytest
from borewright.core.errors import BadFile
from borewright.core.threemf.read_model import read_model
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.models_3mf import (
    CORE,
    ITEM,
    OBJECT,
    RELATIONS,
    START,
    TETRAHEDRON,
    model_text,
    package,
)

MODEL = model_text()
TRIANGLE = '<triangle v1="0" v2="2" v3="1"/>'
GOOD = package(MODEL)

MEMORY = 64e6
"""Bytes, which none of these files may come near: 16 MB is read without a look at it."""


def replaced(old: str, new: str) -> bytes:
    assert old in MODEL
    return package(MODEL.replace(old, new))


def group(number: int, *parts: int) -> str:
    held = "".join(f'<component objectid="{part}"/>' for part in parts)
    return f'<object id="{number}"><components>{held}</components></object>'


def groups(count: int, fan: int) -> bytes:
    """Each group holds the one before it so many times."""
    chain = "".join(group(number, *[number - 1] * fan) for number in range(2, count + 2))
    return package(model_text(OBJECT + chain, f'<item objectid="{count + 1}"/>'))


def bomb() -> bytes:
    """A model that starts well and goes on with 256 MB of blanks."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", RELATIONS.format(START.format("/3D/3dmodel.model")))
        with archive.open("3D/3dmodel.model", "w", force_zip64=True) as model:
            model.write(MODEL.encode())
            for _ in range(64):
                model.write(b" " * (1 << 22))
    return packed.getvalue()


def lying_bomb(claimed: int) -> bytes:
    """The same, its size said to be another in both places."""
    data = bytearray(bomb())
    with zipfile.ZipFile(io.BytesIO(bytes(data))) as archive:
        real = archive.getinfo("3D/3dmodel.model").file_size
    for size in (struct.pack("<Q", real), struct.pack("<I", real)):
        start = data.find(size)
        while start >= 0:
            data[start : start + len(size)] = claimed.to_bytes(len(size), "little")
            start = data.find(size, start + 1)
    return bytes(data)


def patched(offsets: dict[str, int], size: int) -> bytes:
    """The good file with a field of the model's two headers changed.

    offsets : of the field from the start of a local ("PK34") and a central ("PK12") header
    """
    data = bytearray(GOOD)
    for mark, offset in offsets.items():
        kind, value = mark.split("=")
        name = data.rfind(b"3D/3dmodel.model") if kind == "PK12" else data.find(b"3D/3dmodel.model")
        start = name - (46 if kind == "PK12" else 30)
        data[start + offset : start + offset + size] = int(value, 0).to_bytes(size, "little")
    return bytes(data)


def many_parts() -> bytes:
    return package(MODEL, more=[(f"Metadata/{k}.png", b"") for k in range(5000)])


def twice() -> bytes:
    with pytest.warns(UserWarning, match="Duplicate name"):
        return package(MODEL, more=[("3D/3dmodel.model", MODEL.encode())])


def damaged() -> bytes:
    data = bytearray(package(MODEL, method=zipfile.ZIP_STORED))
    data[data.find(b'x="9"') + 3] = ord("8")
    return bytes(data)


def cut_stream() -> bytes:
    """A deflated model that ends in the middle, with sizes and sum that fit what is there."""
    packed = bytearray(package(MODEL))
    start = packed.find(b"3D/3dmodel.model") + len("3D/3dmodel.model")
    packed[start + 20 : start + 40] = bytes(20)
    return bytes(packed)


DOCTYPE = '<!DOCTYPE model [{}]><model xmlns="'

BAD_MODELS: dict[str, tuple[Callable[[], bytes], str]] = {
    # the zip
    "nothing like a zip": (lambda: b"\x93garbage" * 40, r"320 bytes that are no zip"),
    "protected by a password as a whole": (
        lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512), r"520 bytes.*without it"
    ),
    "cut short": (lambda: GOOD[:-100], r"damaged or cut short: File is not a zip file"),
    "cut in the middle": (lambda: GOOD[: len(GOOD) // 2], r"damaged or cut short"),
    "of damaged data": (damaged, r"damaged or cut short: Bad CRC-32"),
    "of a damaged stream": (cut_stream, r"damaged or cut short: Error -\d"),
    "a bomb": (bomb, r"inflates 26\d,\d+ bytes to 268,4\d\d,\d+; needed: at most 100"),
    "a larger bomb": (lambda: lying_bomb(1 << 30), r"of 1,073,741,824 bytes.*at most 536,870,912"),
    "a bomb that hides its size": (lambda: lying_bomb(1000), r"damaged or cut short: Bad CRC-32"),
    "of very many parts": (many_parts, r"about 5,003 parts.*at most 4,096"),
    "of two models": (twice, r"2 parts of the name '3D/3dmodel.model'"),
    "of names that differ in capitals": (
        lambda: package(MODEL, more=[("3d/3DMODEL.model", b"")]), r"2 parts of the name"
    ),
    "encrypted": (lambda: patched({"PK34=1": 6, "PK12=1": 8}, 2), r"an encrypted part.*0x1"),
    "of another method": (
        lambda: package(MODEL, method=zipfile.ZIP_BZIP2), r"compression method 12"
    ),
    "of an unknown method": (
        lambda: patched({"PK34=99": 8, "PK12=99": 10}, 2), r"compression method 99"
    ),
    "of a part that climbs out": (
        lambda: package(MODEL, more=[("3D/../../evil", b"x")]),
        r"name leads out of the file: '3D/../../evil'",
    ),
    "of a part from the root": (lambda: package(MODEL, more=[("/etc/evil", b"")]), r"'/etc/evil'"),
    "of a part on a drive": (lambda: package(MODEL, more=[("C:evil", b"")]), r"'C:evil'"),
    "of a part by backslashes": (
        lambda: package(MODEL, more=[("3D\\..\\evil", b"")]), r"name leads out of the file"
    ),
    # the package
    "no package": (
        lambda: GOOD.replace(b"_rels/.rels", b"_rels/.rest"), r"3 parts in the file, and no '_rels"
    ),
    "without a model": (
        lambda: package(MODEL, relations=RELATIONS.format("")), r"0 models in _rels/\.rels"
    ),
    "of two starts": (
        lambda: package(MODEL, relations=RELATIONS.format(START.format("/a") + START.format("/b"))),
        r"2 models in _rels/\.rels",
    ),
    "of a model that is missing": (
        lambda: package(MODEL, relations=RELATIONS.format(START.format("/3D/other.model"))),
        r"3 parts in the file, and no '3D/other\.model'",
    ),
    "of a model elsewhere": (
        lambda: package(MODEL, relations=RELATIONS.format(
            START.format("http://example.org/a").replace("Id=", 'TargetMode="External" Id='))),
        r"1 model outside the file, at 'http://example\.org/a'",
    ),
    "of relationships with entities": (
        lambda: package(MODEL, relations='<!DOCTYPE a [<!ENTITY b "c">]><a/>'),
        r"document type \(DTD\) 'a' in line 1 of _rels/\.rels",
    ),
    # the XML
    "not XML": (lambda: package("hello"), r"no XML in line 1, column 0 of 3D/3dmodel\.model"),
    "an empty model": (lambda: package(""), r"no XML in line 1.*no element found"),
    "XML that ends early": (lambda: package(MODEL[:-9]), r"no XML in line 1.*unclosed|no element"),
    "a document type": (
        lambda: replaced('<model xmlns="', DOCTYPE.format("")), r"document type \(DTD\) 'model'"
    ),
    "entities that multiply": (
        lambda: replaced('<model xmlns="', DOCTYPE.format(
            '<!ENTITY a "aaaaaaaa">' + "".join(
                f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in itertools.pairwise("abcdefgh")))),
        r"document type \(DTD\) 'model'",
    ),
    "an entity of another file": (
        lambda: replaced('<model xmlns="', DOCTYPE.format('<!ENTITY a SYSTEM "file:///etc/passwd">')),
        r"document type \(DTD\) 'model'",
    ),
    "an entity that is not defined": (lambda: replaced('x="9"', 'x="&a;"'), r"undefined entity"),
    "another encoding": (
        lambda: package(MODEL.replace("UTF-8", "ISO-8859-1").encode("latin-1")),
        r"encoding 'ISO-8859-1' in line 1.*UTF-8 or UTF-16",
    ),
    "an encoding that is none": (
        lambda: replaced("UTF-8", "x-none"), r"encoding 'x-none' in line 1"
    ),
    "bytes that are no UTF-8": (
        lambda: package(MODEL.encode().replace(b'x="9"', b'x="9" name="\xff"')), r"invalid token"
    ),
    "elements very deep": (
        lambda: replaced("<resources>", "<a>" * 70 + "</a>" * 70 + "<resources>"),
        r"elements in each other more than 64 deep",
    ),
    "a tag without end": (
        lambda: replaced('x="9"', f'x="{"9" * 5_000_000}"'),
        r"a tag or comment of more than 1,048,576 bytes",
    ),
    "very many names": (
        lambda: replaced("<resources>", "".join(f"<n{k}/>" for k in range(60_000)) + "<resources>"),
        r"more than 20,000 different names",
    ),
    # the model
    "another root": (
        lambda: replaced(CORE, "http://example.org/a"),
        r"1 root element 'model' of namespace 'http://example\.org/a'.*2015/02",
    ),
    "no namespace": (lambda: replaced(f'xmlns="{CORE}"', ""), r"'model' of namespace ''"),
    "another root element": (lambda: package(f'<part xmlns="{CORE}"/>'), r"root element 'part'"),
    "an unknown unit": (
        lambda: package(model_text(attributes='unit="cubit"')), r"1 unit that is none: 'cubit'"
    ),
    "an extension that it needs": (
        lambda: package(model_text(attributes='xmlns:b="urn:beams" requiredextensions="b"')),
        r"1 extension without which.*: urn:beams",
    ),
    "an extension that it needs and does not declare": (
        lambda: package(model_text(attributes='requiredextensions="x y"')), r"2 extensions.*: x, y"
    ),
    "an item in another part": (
        lambda: replaced(ITEM, '<item objectid="1" p:path="/3D/b.model" xmlns:p="urn:p"/>'),
        r"item 0 of the build in another part of the file, '/3D/b\.model', .*extension urn:p",
    ),
    "no build": (lambda: replaced(ITEM, ""), r"0 items in the build, of 1 object;"),
    "only what is no model": (
        lambda: replaced("<object ", '<object type="support" '), r"1 items .*of type 'support'"
    ),
    "an unknown type": (
        lambda: replaced("<object ", '<object type="ghost" '), r"object 1 of type 'ghost'"
    ),
    "an item of nothing": (
        lambda: replaced(ITEM, '<item objectid="3"/>'), r"the build holds object 3, which is not"
    ),
    "an item without a number": (
        lambda: replaced(ITEM, "<item/>"), r"'' for the objectid of item 0 of the build"
    ),
    "the number 0": (lambda: replaced('id="1"', 'id="0"'), r"0 for the id of object 0 .*1 to"),
    "a number that is none": (lambda: replaced('id="1"', 'id="1_0"'), r"'1_0' for the id"),
    "two objects of one number": (
        lambda: package(model_text(OBJECT + OBJECT)), r"2 objects of the id 1"
    ),
    "an object of nothing": (
        lambda: package(model_text('<object id="1"/>')), r"object 1 with neither a mesh nor"
    ),
    "an object of two kinds": (
        lambda: package(model_text(
            f'<object id="1">{TETRAHEDRON}<components/></object>')),
        r"object 1 with 2 kinds of shape",
    ),
    "an object of two meshes": (
        lambda: package(model_text(f'<object id="1">{TETRAHEDRON}{TETRAHEDRON}</object>')),
        r"2 lists of vertices in object 1",
    ),
    "a group of nothing": (
        lambda: package(model_text('<object id="1"><components/></object>')), r"0 components in"
    ),
    "an object in itself": (
        lambda: package(model_text(group(1, 1))), r"object 1 holds object 1, which is not defined"
    ),
    "objects in each other": (
        lambda: package(model_text(group(1, 2) + group(2, 1))), r"object 1 holds object 2"
    ),
    "groups very deep": (lambda: groups(40, 1), r"object 33 holds objects 33 deep.*at most 32"),
    "groups that multiply": (
        lambda: groups(30, 4), r"object 10 comes to 262,144 meshes in their places.*100,000"
    ),
    "groups of nothing that multiply": (
        lambda: package(model_text(
            '<object id="1"><mesh><triangles/></mesh></object>'
            + "".join(group(k, k - 1, k - 1) for k in range(2, 30)), '<item objectid="29"/>')),
        r"object 18 comes to 131,072 meshes",
    ),
    "groups of very many triangles": (
        lambda: package(model_text(OBJECT.replace(
            TRIANGLE, TRIANGLE * 20_000) + group(2, *[1] * 500), '<item objectid="2"/>')),
        r"object 2 comes to 10,001,500 triangles.*at most 10,000,000",
    ),
    "items of very many triangles": (
        lambda: package(model_text(OBJECT.replace(TRIANGLE, TRIANGLE * 20_000), ITEM * 500)),
        r"the build comes to 10,001,500 triangles.*at most 10,000,000",
    ),
    "very many items": (
        lambda: replaced(ITEM, ITEM * 100_001), r"more than 100,000 items and components"
    ),
    "very many objects": (
        lambda: package(model_text("".join(
            f'<object id="{k}"><mesh><triangles/></mesh></object>' for k in range(1, 20_002)
        ))),
        r"more than 20,000 objects",
    ),
    # numbers
    "no number": (
        lambda: replaced('x="9"', 'x="nan"'),
        r"'nan' for x of object 1's vertex 1 \(counted from 0\).*12\.5",
    ),
    "infinite": (lambda: replaced('x="9"', 'x="inf"'), r"'inf' for x of object 1's vertex 1"),
    "infinite by its size": (
        lambda: replaced('x="9"', 'x="9e999"'), r"vertex 1 of object 1 .* at \(inf, 0, 0\)"
    ),
    "too large": (lambda: replaced('y="9"', 'y="1e8"'), r"vertex 2 of object 1 .*\(0, 1e\+08, 0\)"),
    "two in one": (lambda: replaced('x="9"', 'x="9 9"'), r"'9 9' for x"),
    "of other digits": (lambda: replaced('x="9"', 'x="\u0669"'), r"'\u0669' for x"),
    "with a line under it": (lambda: replaced('x="9"', 'x="9_0"'), r"'9_0' for x"),
    "with a comma": (lambda: replaced('x="9"', 'x="9,5"'), r"'9,5' for x"),
    "empty": (lambda: replaced('x="9"', 'x=""'), r"'' for x of object 1's vertex 1"),
    "left out": (lambda: replaced('x="9" ', ""), r"no x of object 1's vertex 1.*x, y, z"),
    "left out for another": (
        lambda: replaced('x="9" ', 'u="9" '), r"no x of object 1's vertex 1 .*x, y, z"
    ),
    "too large an index": (
        lambda: replaced('v3="1"', 'v3="4"'),
        r"triangle 0 .*of object 1 at vertex 4, of 4 vertices",
    ),
    "a negative index": (
        lambda: replaced('v3="1"', 'v3="-1"'), r"'-1' for v3 of object 1's triangle 0"
    ),
    "half an index": (lambda: replaced('v3="1"', 'v3="1.0"'), r"'1\.0' for v3"),
    "an endless index": (lambda: replaced('v3="1"', f'v3="{"9" * 400}"'), r"'9{40}' for v3|inf"),
    "triangles of no vertices": (
        lambda: package(model_text('<object id="1"><mesh><triangles>'
                                   '<triangle v1="0" v2="1" v3="2"/></triangles></mesh></object>')),
        r"triangle 0 .*at vertex 0, of 0 vertices",
    ),
    "11 numbers": (
        lambda: replaced(ITEM, '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"/>'),
        r"11 numbers for the place of object 1; needed: 12",
    ),
    "a word in a transform": (
        lambda: replaced(ITEM, '<item objectid="1" transform="1 0 0 0 1 0 0 0 one 0 0 0"/>'),
        r"'one' for the place of object 1",
    ),
    "an infinite transform": (
        lambda: replaced(ITEM, '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 1e999 0 0"/>'),
        r"inf in the place of object 1",
    ),
    "a transform that flattens": (
        lambda: replaced(ITEM, '<item objectid="1" transform="1 0 0 0 1 0 1 0 0 0 0 0"/>'),
        r"flatten object 1: determinant 0",
    ),
    "a transform that leads far away": (
        lambda: replaced(ITEM, '<item objectid="1" transform="1e7 0 0 0 1 0 0 0 1 0 0 0"/>'),
        r"vertex 1 of object 1 in its place .*\(9e\+07, 0, 0\)",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD_MODELS)
def test_each_bad_file_is_refused_in_its_own_words_and_little_memory(case: str) -> None:
    make, words = BAD_MODELS[case]
    data = make()
    tracemalloc.start()
    try:
        with pytest.raises(BadFile, match=words) as refusal:
            read_model(data)
        assert tracemalloc.get_traced_memory()[1] < MEMORY + 2 * len(data)
    finally:
        tracemalloc.stop()
    assert refusal.value.needed and refusal.value.remedy
    assert any(letter.isdigit() for letter in refusal.value.found)
    assert len(str(refusal.value)) < 700


def test_the_good_file_that_they_were_made_from_is_read() -> None:
    assert len(read_model(GOOD).mesh.triangles) == 4


def outcome(data: bytes) -> int:
    """How many triangles were read, or none of what was refused. Nothing else may happen."""
    try:
        mesh = read_model(data).mesh
    except BadFile:
        return 0
    assert np.isfinite(mesh.vertices).all()
    assert len(mesh.triangles) == 0 or mesh.triangles.max() < len(mesh.vertices)
    return len(mesh.triangles)


EDIT = st.tuples(st.floats(0.0, 1.0), st.integers(0, 20), st.binary(max_size=8))
EDITS = st.lists(EDIT, min_size=1, max_size=4)
"""Where, how many bytes are taken out, and what is put in."""


def edited(data: bytes, edits: list[tuple[float, int, bytes]]) -> bytes:
    for place, gone, new in edits:
        start = int(place * len(data))
        data = data[:start] + new + data[start + gone :]
    return data


@given(edits=EDITS, stored=st.booleans())
@settings(max_examples=300, deadline=None)
def test_a_zip_with_other_bytes_is_a_mesh_or_refused(
    edits: list[tuple[float, int, bytes]], *, stored: bool
) -> None:
    method = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
    outcome(edited(package(MODEL, method=method), edits))


TOKENS = st.sampled_from(
    ["<vertex ", 'x="', "/>", "<mesh>", "</mesh>", "<components>", '<component objectid="1"/>',
     '<item objectid="2"/>', "9", "-", "e9", "nan", " ", '"', "&lt;", "<!--", "-->", "<![CDATA[",
     "\ufeff", "\x00", "<?a?>", 'transform="', "1 0 0 0 1 0 0 0 1 0 0 0", '<object id="2">',
     "</object>", 'unit="inch"', "<triangle/>", "xmlns=''"]
).map(str.encode)  # fmt: skip
TEXT_EDIT = st.tuples(
    st.floats(0.0, 1.0), st.integers(0, 30), st.one_of(TOKENS, st.binary(max_size=4))
)


@given(edits=st.lists(TEXT_EDIT, min_size=1, max_size=3))
@settings(max_examples=400, deadline=None)
def test_a_model_with_other_text_is_a_mesh_or_refused(
    edits: list[tuple[float, int, bytes]],
) -> None:
    outcome(package(edited(MODEL.encode(), edits), method=zipfile.ZIP_STORED))


@given(edits=EDITS)
@settings(max_examples=150, deadline=None)
def test_a_list_of_parts_with_other_bytes_is_a_mesh_or_refused(
    edits: list[tuple[float, int, bytes]],
) -> None:
    """The zip's own tables: where they start, sums and sizes."""
    tables = GOOD.find(b"PK\x01\x02")
    outcome(GOOD[:tables] + edited(GOOD[tables:], edits))
