"""An engine that solves nothing: an invented law writes the rows a worker would write."""

import tomllib

from formsim.study.engine import BEGUN, ENDED, Event
from formsim.study.folder import read_job

NOSE = "stage.draw.punch.nose_radius"


class StandIn:
    """Rows by ``law``: values of measures by name for the tables of a case, or an ending."""

    workers = 1

    def __init__(self, law, stop_behind=None):
        self.law, self.asked, self.stop = law, [], stop_behind

    def solve(self, path, keys):
        folder, job = read_job(path)
        for key in keys:
            if self.stop is not None and len(self.asked) >= self.stop:
                raise KeyboardInterrupt
            yield Event(key, BEGUN)
            self.asked.append(key)
            came = self.law(tomllib.loads(folder.case(key).read_text(encoding="utf-8")))
            row = {"status": "done", "measures": {}, "keep": job.keep, "seconds": 1.0}
            if isinstance(came, str):
                row |= {"status": came, "reason": f"the sheet has {came}"}
            else:
                row["measures"] = {
                    f"{one.stage}.{one.measure}": came.get(one.measure) for one in job.wanted
                }
            folder.write_row(key, row)
            yield Event(key, ENDED)
