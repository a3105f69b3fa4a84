"""Files that are made to break a parser: entities, depth, size, packing."""

from __future__ import annotations

import gzip
import socket
import threading

import pytest

from panelshift.errors import SvgError
from panelshift.sources.svg import read_svg
from panelshift.sources.svg.document import MOST_ATTRIBUTES, MOST_BYTES, MOST_ELEMENTS

from .bounds import MOST_MIB, bounded, memory_of

SVG = 'xmlns="http://www.w3.org/2000/svg"'
PAGE = f'<svg {SVG} width="9mm" height="9mm">'


def refused(data: bytes | str, match: str) -> SvgError:
    text = data if isinstance(data, bytes) else data.encode()
    with bounded(), pytest.raises(SvgError, match=match) as caught:
        read_svg(text, name="bad.svg")
    assert caught.value.source == "bad.svg"
    assert len(str(caught.value)) < 1000
    return caught.value


def test_an_entity_bomb() -> None:
    rows = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, 12))
    doctype = f'<!DOCTYPE svg [<!ENTITY e0 "ha">{rows}]>'
    refused(f"{doctype}{PAGE}<text>&e11;</text></svg>", "entit")
    refused(f'{doctype}{PAGE}<path d="&e11;"/></svg>', "entit|amplification|loop")


def test_a_wide_entity() -> None:
    doctype = f'<!DOCTYPE svg [<!ENTITY e "{"x" * 100_000}">]>'
    refused(f"{doctype}{PAGE}<text>{'&e;' * 10_000}</text></svg>", "entit|amplification|loop")


def test_external_entities_are_never_opened(tmp_path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("a secret of the house")
    for system in (secret.as_uri(), str(secret), "http://127.0.0.1:9/x"):
        doctype = f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{system}">]>'
        error = refused(f"{doctype}{PAGE}<text>&x;</text></svg>", "declares entities")
        assert "a secret" not in str(error)


def test_parameter_entities_and_outside_definitions_are_never_fetched(tmp_path) -> None:
    definition = tmp_path / "outside.dtd"
    definition.write_text('<!ENTITY x "from outside">')
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(0.5)
        port = listener.getsockname()[1]
        for system in (definition.as_uri(), f"http://127.0.0.1:{port}/outside.dtd"):
            inside = f'<!DOCTYPE svg [<!ENTITY % p SYSTEM "{system}"> %p;]>'
            refused(f"{inside}{PAGE}</svg>", "entit")
            outside = f'<!DOCTYPE svg SYSTEM "{system}">'
            refused(f"{outside}{PAGE}<text>&x;</text></svg>", "declared outside")
            refused(f'{outside}{PAGE}<path d="M0 0&x;L5 5"/></svg>', "declared outside")
            drawing = read_svg(f"{outside}{PAGE}<line x2='3'/></svg>".encode())
            assert len(drawing.shapes) == 1
        with pytest.raises(TimeoutError):
            listener.accept()


@pytest.mark.parametrize("tag", ["g", "svg", "a", "switch", "defs", "x"])
def test_deep_nesting(tag) -> None:
    refused(PAGE + f"<{tag}>" * 100_000 + f"</{tag}>" * 100_000 + "</svg>", "nested more than")


def test_unclosed_depth() -> None:
    refused(PAGE + "<g>" * 100_000, "nested more than")


@pytest.mark.slow
def test_a_giant_file_is_not_read_to_its_end(tmp_path) -> None:
    file = tmp_path / "giant.svg"
    with file.open("wb") as stream:
        stream.write(PAGE.encode())
        # A sparse file: 100 MB of NULs that no disk holds.
        stream.truncate(100 * 1024 * 1024)
    with bounded(), pytest.raises(SvgError, match="holds more than 32 MiB"):
        read_svg(file)
    assert memory_of(file)[0] < MOST_MIB


@pytest.mark.slow
def test_a_giant_file_of_elements(tmp_path) -> None:
    file = tmp_path / "elements.svg"
    file.write_text(PAGE + "<g/>" * (MOST_BYTES // 4 - 100) + "</svg>")
    with bounded(), pytest.raises(SvgError, match=f"more than {MOST_ELEMENTS} elements"):
        read_svg(file)


def test_a_file_without_an_end() -> None:
    with bounded(), pytest.raises(SvgError, match="a pipe or a device, not a file"):
        read_svg("/dev/zero")


@pytest.mark.slow
def test_a_packed_bomb(tmp_path) -> None:
    file = tmp_path / "bomb.svgz"
    # 1 GB of nothing packs to 1 MB.
    block = gzip.compress(b" " * 2**20)
    file.write_bytes(gzip.compress(PAGE.encode()) + block * 1024)
    with bounded(), pytest.raises(SvgError, match="holds more than 32 MiB"):
        read_svg(file)
    peak, words = memory_of(file)
    assert "more than 32 MiB" in words
    assert peak < MOST_MIB


def test_a_bomb_packed_twice() -> None:
    inner = gzip.compress(PAGE.encode() + b"</svg>")
    refused(gzip.compress(inner), "not well-formed")


@pytest.mark.parametrize("cut", [1, 5, 11, 20, 40])
def test_packed_files_that_are_cut_short(cut) -> None:
    refused(gzip.compress(PAGE.encode() + b"<g/></svg>")[:cut], "damaged|not well-formed|empty")


def test_too_many_attributes() -> None:
    many = " ".join(f'a{k}="1"' for k in range(100_000))
    refused(f"{PAGE}<path {many}/></svg>", f"more than {MOST_ATTRIBUTES} attributes")


@pytest.mark.parametrize(
    "data",
    [
        b"\x00" * 1000,
        b"\xff\xfe<\x00s\x00v\x00g\x00",
        b"<svg" + b" " * 1_000_000,
        b"<!--" * 100_000,
        b"<![CDATA[" * 100_000,
        b"<?x " * 100_000,
        b'<svg a="' + b"&lt;" * 1_000_000,
        "<svg \ud800>".encode("utf-8", "surrogatepass"),
        b'<?xml version="1.0" encoding="no-such"?><svg/>',
        b'<?xml version="9.9"?><svg',
        b"GIF89a" + bytes(range(256)),
        b"%PDF-1.7",
    ],
    ids=range(12),
)
def test_what_is_no_svg_at_all(data) -> None:
    refused(data, "not well-formed|empty|nested|this is a (GIF picture|PDF), not an SVG drawing")


def test_an_element_that_is_called_svg_in_another_namespace() -> None:
    refused('<svg xmlns="http://www.w3.org/1999/xhtml"/>', "is in the namespace")


def test_reading_starts_no_threads() -> None:
    before = threading.active_count()
    read_svg(f'{PAGE}<image href="http://127.0.0.1:9/a.png"/></svg>'.encode())
    assert threading.active_count() == before


@pytest.mark.parametrize("giant", [" " * (11 << 20), f'<g id="{"y" * (11 << 20)}"/>'])
def test_a_giant_value_is_refused_in_words_a_maker_knows(giant: str) -> None:
    refused((PAGE + giant + "</svg>").encode(), "longer than 10 million characters")
