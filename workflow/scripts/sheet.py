from pathlib import Path

import pandas as pd
import yaml

from workflow.job import job
from workflow.records import read_json
from workflow.sheet import write_sheet
from workflow.sheet_records import SheetRecords

with job(snakemake):
    records = SheetRecords(
        case=yaml.safe_load(Path(snakemake.input.case).read_text(encoding="utf-8")),
        summary=read_json(snakemake.input.summary),
        solved=read_json(snakemake.input.equilibrium),
        bilinear=read_json(snakemake.input.bilinear),
        provenance=read_json(snakemake.input.provenance),
        supports={
            tooth: read_json(path)
            for tooth, path in zip(snakemake.params.teeth, snakemake.input.supports, strict=True)
        },
        checks=pd.read_csv(snakemake.input.checks),
        curve=read_json(snakemake.input.curve),
        scenes=read_json(snakemake.input.scenes),
        course=next(map(read_json, snakemake.input.course), None),
    )
    drawn = [*snakemake.input.figures, *snakemake.input.course_figure]
    figures = {Path(path).stem: path for path in drawn}
    write_sheet(records, figures, snakemake.output.sheet)
