"""Study folders whose numbers are invented, for what is made of them."""

from formsim.study.asked import asked_study
from formsim.study.folder import RULES, Job, StudyFolder, open_study, write_job
from formsim.study.handbook import handbook_rows
from formsim.study.plan import plan_study
from formsim.study.table import table_of, write_rows, write_table

REFUSED = -1.0
"""A value no thickness can have."""


def made_study(case, into, law, *vary, design=None, endings=None, **more) -> StudyFolder:
    """Folder of a study of a case.

    ``law`` gives the row of a variant from its number and its inputs: numbers by name, perhaps
    ``margin``, ``mass`` and ``checks``; ``endings`` says by number what came to no end.
    """
    asked = asked_study(case, vary, design or {}, **more)
    plan = plan_study(asked.study, asked.case, asked.name)
    folder = open_study(into)
    rows = {}
    for one in plan.variants:
        if one.refused or (endings or {}).get(one.number) == "waiting":
            continue
        if one.number in (endings or {}):
            status, reason = endings[one.number]
            rows[one.key] = {"status": status, "reason": reason, "seconds": 1.0}
            continue
        found = law(one.number, *one.values)
        rows[one.key] = {
            "status": "done",
            "least_margin_percent": found.pop("margin", None),
            "least_margin_of": "draw wall: limit curve",
            "mass_g": found.pop("mass", None),
            "failed_checks": found.pop("checks", ()),
            "seconds": 2.0,
            "measures": found,
        }
    job = Job(plan.folder, plan.study.keep, plan.wanted)
    cases = {one.key: one.text for one in plan.variants if one.key}
    write_job(folder, job, asked.seen_from(into), cases)
    write_rows(folder, RULES, handbook_rows(plan.broken))
    write_table(folder, table_of(plan, rows))
    return folder
