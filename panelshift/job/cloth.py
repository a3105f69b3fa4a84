"""What the job file says about the cloth each fabric is cut from."""

from __future__ import annotations

from ..needs import ClothOptions, FabricNeeds, fabric_needs
from ..shift import Shifted
from .model import JobFile
from .resolve import Job


def cloth_options(job: JobFile) -> dict[str, ClothOptions]:
    """Widths, nap, shrinkage and spare of each fabric, by its name."""
    return {
        table.name: ClothOptions(table.cloth_widths, table.nap, table.shrinkage, table.spare)
        for table in job.stack.fabric
    }


def cloth_needs(job: Job, shifted: Shifted) -> FabricNeeds:
    """Lay all fabrics of a job that are cut out, each on the widths of cloth it names.

    Takes about a second for each layout on one core; several are found at once.
    """
    return fabric_needs(shifted, job.plan, cloth_options(job.file), unit=job.file.pattern.units)
