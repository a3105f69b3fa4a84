import gzip
import subprocess
import sys

import pytest

from panelshift.errors import CurveError, SvgError
from panelshift.pattern.drawing import LeftOut
from panelshift.sources.svg import document, read_svg

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm">'
GOOD = SVG + b'<line id="a" x2="96"/></svg>'


def test_reads_a_file_by_str_and_by_path(tmp_path):
    path = tmp_path / "panel.svg"
    path.write_bytes(GOOD)
    for source in (str(path), path):
        drawing = read_svg(source)
        assert drawing.source == str(path)
        assert drawing.shapes[0].curve.end == pytest.approx([25.4, 0.0])


def test_reads_packed_files(tmp_path):
    path = tmp_path / "panel.svgz"
    path.write_bytes(gzip.compress(GOOD))
    assert read_svg(path).shapes[0].ident == "a"
    assert read_svg(gzip.compress(GOOD)).shapes[0].ident == "a"


def test_bytes_may_be_named_and_encoded():
    assert read_svg(GOOD, name="here").source == "here"
    assert read_svg(GOOD.decode().encode("utf-16")).shapes[0].ident == "a"


def test_missing_file(tmp_path):
    path = tmp_path / "no.svg"
    with pytest.raises(SvgError, match="there is no such file") as caught:
        read_svg(path)
    assert caught.value.source == str(path)
    assert caught.value.remedy


def test_folder_in_place_of_a_file(tmp_path):
    with pytest.raises(SvgError, match="this is a folder"):
        read_svg(tmp_path)


def test_a_name_that_cannot_be_opened():
    with pytest.raises(SvgError, match="the file cannot be read"):
        read_svg("pan\0el.svg")


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (b"", "the file is empty"),
        (b" \n", "the file is empty"),
        (b"hello", "not well-formed XML"),
        (b"<svg><g></svg>", "not well-formed XML"),
        (SVG, "not well-formed XML"),
        (b"<html/>", "the outermost element is <html>, not <svg>"),
        (b'<svg xmlns="http://example.org/x"/>', "in the namespace 'http://example.org/x'"),
        (b"\x1f\x8bnonsense", "the packed file .* is damaged"),
        (gzip.compress(GOOD, mtime=0)[:-12], "the packed file .* is damaged"),
        (b"<svg>" + b"<g>" * 300 + b"</g>" * 300 + b"</svg>", "nested more than about 250"),
        (b"<svg>" + b"<g>" * 100_000 + b"</g>" * 100_000 + b"</svg>", "nested more than"),
        (b'<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>', "declares entities"),
    ],
)
def test_files_that_are_not_readable_svg(text, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read_svg(text, name="bad.svg")
    assert caught.value.source == "bad.svg"
    assert str(caught.value).startswith("bad.svg: ")


def test_nesting_that_the_parser_allows_is_read():
    depth = 240
    text = SVG + b"<g>" * depth + b'<line id="a" x2="96"/>' + b"</g>" * depth + b"</svg>"
    assert read_svg(text).shapes[0].ident == "a"


def test_entities_are_never_expanded(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    outside = f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{secret.as_uri()}">]><svg><text>&x;</text></svg>'
    with pytest.raises(SvgError, match="declares entities"):
        read_svg(outside.encode())
    names = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
    bomb = f'<!DOCTYPE svg [<!ENTITY a0 "x">{names}]><svg id="&a11;"/>'
    with pytest.raises(SvgError):
        read_svg(bomb.encode())


NAMESPACES = (
    '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
    '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" ['
    '<!ENTITY ns_svg "http://www.w3.org/2000/svg"><!ENTITY ns_own "http://example.org/own/1.0/">]>'
)


def test_entities_that_shorten_namespaces_are_read():
    text = (
        f'{NAMESPACES}<svg xmlns="&ns_svg;" xmlns:own="&ns_own;" width="1in" own:at="&ns_own;">'
        '<own:data/><line id="a" x2="96"/></svg>'
    )
    (shape,) = read_svg(text.encode()).shapes
    assert (shape.ident, shape.curve.end[0]) == ("a", pytest.approx(25.4))


@pytest.mark.parametrize(
    ("declared", "body"),
    [
        ('<!ENTITY a "http://example.org/">', "<text>&a;</text>"),
        ('<!ENTITY a "http://example.org/"><!ENTITY b "&a;x">', '<g id="&b;"/>'),
        ("<!ENTITY a \"&#60;line x2='3'/>\">", "<g/>"),
        (f'<!ENTITY a "{"x" * 201}">', "<g/>"),
        ('<!ENTITY a "two words">', "<g/>"),
        ('<!ENTITY a "x">', '<g id="&a;"/>' * 1_000),
    ],
)
def test_other_entities_are_refused(declared, body):
    text = f"<!DOCTYPE svg [{declared}]><svg>{body}</svg>"
    with pytest.raises(SvgError, match="declares entities"):
        read_svg(text.encode())


def test_a_document_type_without_entities_is_read():
    doctype = (
        b'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        b'"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    assert read_svg(doctype + GOOD).shapes[0].ident == "a"


def test_size_is_bounded_before_and_after_unpacking(monkeypatch):
    monkeypatch.setattr(document, "MOST_BYTES", 1024 * 1024)
    long = SVG + b" " * (1024 * 1024) + b"</svg>"
    for text in (long, gzip.compress(long)):
        with pytest.raises(SvgError, match="more than 1 MiB"):
            read_svg(text)


def test_a_file_without_namespace_is_read_with_a_warning():
    drawing = read_svg(b'<svg width="10mm" height="10mm"><line id="a" x2="96"/></svg>')
    assert drawing.shapes[0].ident == "a"
    assert "has no xmlns=" in drawing.warnings[0]


def test_prefixed_svg_and_elements_of_other_namespaces():
    drawing = read_svg(
        b'<s:svg xmlns:s="http://www.w3.org/2000/svg" xmlns:e="http://example.org/editor" '
        b'width="1in" height="1in"><e:view><s:line x2="5"/></e:view><line x2="5"/>'
        b"<!-- a comment --><?note x?><s:line id='a' x2='5'/></s:svg>"
    )
    assert [shape.ident for shape in drawing.shapes] == ["a"]
    assert drawing.left_out == ()


def test_coordinates_beyond_reason_name_the_element(read):
    with pytest.raises(CurveError, match="beyond 100 m") as caught:
        read('<line id="far" x2="200000"/>')
    assert (caught.value.source, caught.value.element) == ("drawing.svg", "far")
    with pytest.raises(SvgError, match='x2="1e400" is not a length'):
        read('<line id="far" x2="1e400"/>')
    with pytest.raises(SvgError, match='x2="1e13" is too large'):
        read('<line id="far" x2="1e13"/>')
    with pytest.raises(SvgError, match='x2="NaN" is not a length'):
        read('<line id="far" x2="NaN"/>')


def test_what_is_not_read_is_listed(read):
    drawing = read(
        '<image id="scan" href="x.png"/><foreignObject id="html"/><flowRoot id="flow"/>'
        '<text id="curved"><textPath href="#p">around</textPath></text>'
        "<metadata><x/></metadata><defs><image/></defs><animate/><script/>"
    )
    assert drawing.left_out == (
        LeftOut("scan", "a picture is not read"),
        LeftOut("html", "text or markup that is not SVG is not read"),
        LeftOut("flow", "the element <flowRoot> is not known"),
        LeftOut("curved", "text on a path is not read"),
    )


@pytest.mark.slow
def test_reading_imports_neither_svgpathtools_nor_scipy():
    code = (
        "import sys; from panelshift.sources.svg import read_svg; "
        'read_svg(b\'<svg width="9mm"><path d="M0 0L1 2A3 4 5 0 1 6 7"/></svg>\'); '
        "sys.exit('svgpathtools' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
