"""PDFs made for the tests with pikepdf, operator by operator."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream, String

from panelshift.outline import Curve
from panelshift.outline.bezier import LINE

POINTS = 72.0 / 25.4


def made(
    contents: Sequence[str],
    size: tuple[float, float] = (200.0, 300.0),
    *,
    layers: Mapping[str, bool] | None = None,
    page: Mapping[str, object] | None = None,
    forms: Mapping[str, tuple[str, dict[str, object]]] | None = None,
    **save: object,
) -> bytes:
    """A PDF of pages with a size in mm, their contents in default units.

    *layers*: names of optional content, and whether each is shown; in contents they are /L0, /L1
    and so on. *page*: more entries of every page. *forms*: content and entries of forms by name.
    """
    pdf = Pdf.new()
    groups = [
        pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String(name))) for name in layers or {}
    ]
    off = [g for g, shown in zip(groups, (layers or {}).values(), strict=True) if not shown]
    if groups:
        pdf.Root.OCProperties = Dictionary(OCGs=Array(groups), D=Dictionary(OFF=Array(off)))
    named = Dictionary({f"/L{k}": group for k, group in enumerate(groups)})
    resources = Dictionary(Properties=named, XObject=Dictionary(), Font=Dictionary())
    resources.Font.F = pdf.make_indirect(
        Dictionary(
            Type=Name.Font,
            Subtype=Name.Type1,
            BaseFont=Name("/Helvetica-Bold"),
            Encoding=Name.WinAnsiEncoding,
            FirstChar=32,
            Widths=Array([556] * 96),
        )
    )
    for name, (content, entries) in (forms or {}).items():
        form = Stream(pdf, content.encode())
        form.Type, form.Subtype = Name.XObject, Name.Form
        form.BBox = Array([-1000, -1000, 5000, 5000])
        for key, value in entries.items():
            form[key] = groups[value] if key == "/OC" else value
        resources.XObject[f"/{name}"] = pdf.make_indirect(form)
    for name in forms or {}:
        resources.XObject[f"/{name}"].Resources = resources
    for content in contents:
        one = Dictionary(
            Type=Name.Page,
            MediaBox=Array([0, 0, size[0] * POINTS, size[1] * POINTS]),
            Resources=resources,
            Contents=Stream(pdf, content.encode()),
            **{key.lstrip("/"): value for key, value in (page or {}).items()},
        )
        pdf.pages.append(pikepdf.Page(pdf.make_indirect(one)))
    stream = io.BytesIO()
    pdf.save(stream, compress_streams=True, **save)
    return stream.getvalue()


def stroked(curve: Curve, height: float) -> str:
    """Operators that draw a curve given in mm, y downwards, on a page of a height in mm."""
    control = (curve.control * (1.0, -1.0) + (0.0, height)) * POINTS
    words = ["{:.6f} {:.6f} m".format(*control[0, 0])]
    for degree, points in zip(curve.degree, control, strict=True):
        if degree == LINE:
            words.append("{:.6f} {:.6f} l".format(*points[3]))
        else:
            words.append("{:.6f} {:.6f} {:.6f} {:.6f} {:.6f} {:.6f} c".format(*points[1:].ravel()))
    return " ".join([*words, "s" if curve.closed else "S"])
