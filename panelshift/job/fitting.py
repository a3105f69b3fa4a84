"""What a job says to its fit sheet."""

from __future__ import annotations

from ..cutting.plan import ClothOptions
from ..fit.facts import FitBasis, FitFacts, FitOptions, fit_facts
from ..shift import Shifted
from .model import JobFile
from .resolved import Job
from .result import shift_job
from .settings import settings


def fit_job(job: Job, shifted: Shifted | None = None, *, lay_cloth: bool = True) -> FitFacts:
    """Compute everything the fit sheet of a job states.

    *shifted*: as `shift_job` gives it for this job, where it is known already. *lay_cloth*: whether
    to lay out the cloth as well, if the job wants that: about a second for each layout on one core;
    several are found at once.

    Raises `PanelshiftError` for see `panelshift.job.result.shift_job`.
    """
    table = job.file.fit
    return fit_facts(
        FitBasis(
            shift_job(job) if shifted is None else shifted,
            job.body,
            job.plan,
            job.gap,
            job.units,
            FitOptions(table.seam_tolerance, table.busk, table.seasoning, table.former),
            cloth_options(job.file) if table.needs and lay_cloth else None,
            bool(job.file.stack.drafted_layer),
            tuple(settings(job)),
            job.look_at,
        )
    )


def cloth_options(job: JobFile) -> dict[str, ClothOptions]:
    """Widths, nap, shrinkage and spare of each fabric, by its name."""
    return {
        table.name: ClothOptions(table.cloth_widths, table.nap, table.shrinkage, table.spare)
        for table in job.stack.fabric
    }
