"""panelshift: turn of cloth for corset patterns.

The names below are the library's public face. They are imported when first asked for, so that
``import panelshift`` costs next to nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .version import __version__

if TYPE_CHECKING:
    from .api import (
        drafted_waist_for as drafted_waist_for,
        layer_pdf as layer_pdf,
        layer_svg as layer_svg,
        overlay_svg as overlay_svg,
        pattern_from_panels as pattern_from_panels,
        read_pattern as read_pattern,
        save as save,
        shift_pattern as shift_pattern,
        turn_pattern as turn_pattern,
    )
    from .batch import BatchJob as BatchJob, iter_many as iter_many, run_many as run_many
    from .body import (
        ClassModel as ClassModel,
        FormerModel as FormerModel,
        Measures as Measures,
        SectionModel as SectionModel,
    )
    from .body.form import FormErrors as FormErrors, FormModel as FormModel
    from .construction.sewing import (
        Bones as Bones,
        Construction as Construction,
        Shell as Shell,
        Strip as Strip,
    )
    from .cutting.plan import Allowances as Allowances, CutPlan as CutPlan, Cutting as Cutting
    from .draft import Gore as Gore, Reading as Reading, StandsOn as StandsOn
    from .errors import PanelshiftError as PanelshiftError
    from .fit.compared import compare_corsets as compare_corsets
    from .fit.growth_draws import growth_draws as growth_draws
    from .form.scan import measure_scan as measure_scan
    from .form.section_file import (
        MeasuredForm as MeasuredForm,
        read_section_file as read_section_file,
        section_file as section_file,
    )
    from .form.traced import measure_traced as measure_traced
    from .job.opened import (
        job_facts as job_facts,
        job_layers as job_layers,
        job_pdfs as job_pdfs,
        job_text as job_text,
        open_job as open_job,
    )
    from .job.scripted import job_files as job_files
    from .outline import Curve as Curve
    from .pattern.panel import Panel as Panel
    from .pattern.pattern import Pattern as Pattern
    from .pattern.two_sides import both_sides as both_sides
    from .printing import PageOptions as PageOptions, parse_paper as parse_paper
    from .sheets.saved import read_saved as read_saved, saved as saved
    from .shift import LayerPattern as LayerPattern, Shifted as Shifted
    from .shift.alteration import Alteration as Alteration
    from .shift.altered import (
        Altered as Altered,
        alter_pattern as alter_pattern,
    )
    from .shift.end_edges import EndAlteration as EndAlteration
    from .sources.scripts import (
        DraftPanel as DraftPanel,
        from_svgpathtools as from_svgpathtools,
        to_svgpathtools as to_svgpathtools,
    )
    from .sources.svg.saving import draft_svg as draft_svg
    from .stack import Fabric as Fabric, MeasuredDistance as MeasuredDistance, Stack as Stack

_HOMES = {
    "Allowances": "cutting.plan",
    "Alteration": "shift.alteration",
    "Altered": "shift.altered",
    "alter_pattern": "shift.altered",
    "both_sides": "pattern.two_sides",
    "draft_svg": "sources.svg.saving",
    "BatchJob": "batch",
    "ClassModel": "body",
    "CutPlan": "cutting.plan",
    "Strip": "construction.sewing",
    "Shell": "construction.sewing",
    "Construction": "construction.sewing",
    "Bones": "construction.sewing",
    "Curve": "outline",
    "Cutting": "cutting.plan",
    "DraftPanel": "sources.scripts",
    "EndAlteration": "shift.end_edges",
    "Fabric": "stack",
    "FormErrors": "body.form",
    "FormModel": "body.form",
    "FormerModel": "body",
    "LayerPattern": "shift",
    "MeasuredDistance": "stack",
    "MeasuredForm": "form.section_file",
    "Measures": "body",
    "PageOptions": "printing",
    "Panel": "pattern.panel",
    "PanelshiftError": "errors",
    "Pattern": "pattern.pattern",
    "Gore": "draft",
    "Reading": "draft",
    "StandsOn": "draft",
    "SectionModel": "body",
    "Shifted": "shift",
    "Stack": "stack",
    "compare_corsets": "fit.compared",
    "drafted_waist_for": "api",
    "from_svgpathtools": "sources.scripts",
    "growth_draws": "fit.growth_draws",
    "iter_many": "batch",
    "job_facts": "job.opened",
    "job_files": "job.scripted",
    "job_layers": "job.opened",
    "job_pdfs": "job.opened",
    "job_text": "job.opened",
    "layer_pdf": "api",
    "layer_svg": "api",
    "measure_scan": "form.scan",
    "measure_traced": "form.traced",
    "open_job": "job.opened",
    "overlay_svg": "api",
    "parse_paper": "printing",
    "pattern_from_panels": "api",
    "read_pattern": "api",
    "read_saved": "sheets.saved",
    "read_section_file": "form.section_file",
    "run_many": "batch",
    "save": "api",
    "saved": "sheets.saved",
    "section_file": "form.section_file",
    "shift_pattern": "api",
    "turn_pattern": "api",
    "to_svgpathtools": "sources.scripts",
}

__all__ = [
    "Allowances",
    "Alteration",
    "Altered",
    "alter_pattern",
    "both_sides",
    "draft_svg",
    "BatchJob",
    "ClassModel",
    "CutPlan",
    "Gore",
    "Strip",
    "Shell",
    "Construction",
    "Bones",
    "Curve",
    "Cutting",
    "DraftPanel",
    "EndAlteration",
    "Fabric",
    "FormErrors",
    "FormModel",
    "FormerModel",
    "LayerPattern",
    "MeasuredDistance",
    "MeasuredForm",
    "Measures",
    "PageOptions",
    "Panel",
    "PanelshiftError",
    "Pattern",
    "Reading",
    "SectionModel",
    "Shifted",
    "Stack",
    "StandsOn",
    "__version__",
    "compare_corsets",
    "drafted_waist_for",
    "growth_draws",
    "from_svgpathtools",
    "iter_many",
    "job_facts",
    "job_files",
    "job_layers",
    "job_pdfs",
    "job_text",
    "layer_pdf",
    "layer_svg",
    "measure_scan",
    "measure_traced",
    "open_job",
    "overlay_svg",
    "parse_paper",
    "pattern_from_panels",
    "read_pattern",
    "read_saved",
    "read_section_file",
    "run_many",
    "save",
    "saved",
    "section_file",
    "shift_pattern",
    "to_svgpathtools",
    "turn_pattern",
]


if not TYPE_CHECKING:  # a type checker that saw it would let every misspelt name pass

    def __getattr__(name: str) -> Any:
        home = _HOMES.get(name)
        if home is None:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from importlib import import_module

        value = getattr(import_module(f"{__name__}.{home}"), name)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return sorted(__all__)
