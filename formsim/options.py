"""Arguments of the commands."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any


class Once(argparse.Action):
    """A value that an option takes once: the first of two would do nothing."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option_string: str | None = None,
    ) -> None:
        """Keep the value; the command ends where there is one already."""
        earlier = getattr(namespace, self.dest, None)
        if option_string is not None and earlier is not self.default:
            parser.error(f"{option_string} is given twice: {earlier}, then {values}")
        setattr(namespace, self.dest, values)


def result_folder(text: str) -> Path:
    """Folder of a result, also where one of its files is named, such as its page."""
    path = Path(text)
    return path.parent if path.is_file() else path


def add_new(new: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim new``."""
    new.add_argument("kind", choices=["cup"], help="what to make")
    new.add_argument("--into", type=Path, default=Path(), metavar="DIR", help="folder for the file")


def add_check(check: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim check``."""
    check.add_argument("case", type=Path, help="case file (TOML)")
    check.add_argument("--full", action="store_true", help="show every value, defaults included")


def add_show(show: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim show``."""
    show.add_argument("result", type=result_folder, help="result folder")


def add_run(run: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim run``."""
    _add_case(run, "result folder", "results", "an earlier result")
    run.add_argument("--quiet", action="store_true", help="no progress line")
    run.add_argument(
        "--exact",
        action="store_true",
        help="solve all columns in every increment, not only the busy ones: often slower",
    )
    run.add_argument(
        "--error-bars",
        action="store_true",
        help="run the case on two coarser meshes and with halved increments too, and say how far"
        " its numbers may be off for mesh and increments: about four times as long",
    )


def add_sweep(sweep: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim sweep``."""
    add = sweep.add_argument
    add("file", type=Path, metavar="FILE", help="study file, or a case file with --vary (TOML)")
    add(
        "--vary",
        action="append",
        default=[],
        metavar="KEY=VALUES",
        help='what varies, once for each input: "stage.draw.die.radius = 2:5:0.5",'
        ' "sheet.thickness = [0.26, 0.28]"; KEY may be several with commas between',
    )
    add(
        "--measure",
        action="append",
        metavar="STAGE.NAME",
        help="what the table shows, such as draw.min_thickness, once for each (default: headlines)",
    )
    add("--design", metavar="KIND", help="grid, list, one_at_a_time, random, latin_hypercube, ...")
    add("--samples", type=int, metavar="N", help="number of samples of a sampled design")
    add("--seed", type=int, metavar="N", help="another seed gives other samples")
    add("--keep", metavar="WHAT", help="of every variant: summary, curves or history")
    add("--strict", action="store_true", help="stop where a variant cannot be run")
    add("--plan", action="store_true", help="show what would be done, and solve nothing")
    _add_study(sweep, "studies/<name of the file>", "another study")


def add_seek(seek: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim seek``."""
    add = seek.add_argument
    add("case", type=Path, metavar="CASE", help="case file (TOML)")
    for name, form, text in (
        ("--change", "KEY=LOW:HIGH", 'may change, once for each: "stage.draw.die.radius = 2:6"'),
        ("--until", "CONDITION", 'to keep, once for each: "draw.max_thinning_percent <= 10"'),
    ):
        add(name, action="append", metavar=form, help=text)
    add("--prefer", metavar="WISH", help='"smallest KEY" or "largest KEY", or of a measure')
    add("--within", type=float, metavar="X", help="how close, in the unit of what is preferred")
    add("--most", type=int, default=30, metavar="N", help="variants at most (default: %(default)s)")
    add("--keep", choices=("summary", "curves", "history"), help="what stays of every variant")
    add("--confirm", action="store_true", help="solve the answer on a finer mesh too")
    add("--plan", action="store_true", help="show what would be tried, and solve nothing")
    _add_study(seek, "studies/<name of the case file>-seek", "another search")


def add_predict(predict: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim predict``."""
    predict.add_argument("study", type=Path, help="folder of a study that is solved")
    predict.add_argument(
        "--at",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help='the place, once for each input: "stage.draw.die.radius = 3.3"',
    )


def _add_study(command: argparse.ArgumentParser, folder: str, other: str) -> None:
    """Where a study is solved and kept."""
    add = command.add_argument
    add(
        "--on",
        default="local",
        metavar="WHERE",
        help="local (default); slurm, a job array; tcp://HOST:PORT, a Dask scheduler",
    )
    add("--workers", type=int, metavar="N", help="variants at a time (default: every processor)")
    add("--longest", metavar="TIME", help='stop a variant that takes longer: "90 s", "10 min"')
    add(
        "--into",
        type=Path,
        metavar="DIR",
        help=f"folder of the study (default: {folder})",
    )
    add("--replace", action="store_true", help=f"put {other} in the place of the one there")
    add("--quiet", action="store_true", help="no progress line")


def add_worker(worker: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim worker``."""
    worker.add_argument("study", type=Path, help="folder of a study")
    either = worker.add_mutually_exclusive_group()
    either.add_argument(
        "--share", type=Path, metavar="DIR", help="folder from which a task of a job array takes"
    )
    text = "variants to solve; without any, read from standard input"
    either.add_argument("key", nargs="*", default=[], help=text)


def add_drawings(drawings: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim drawings``."""
    _add_case(drawings, "folder for them", "drawings", "earlier drawings")


def add_export(export: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim export``."""
    export.add_argument("result", type=result_folder, help="result folder")
    export.add_argument(
        "--into", type=Path, metavar="DIR", help="folder for the files (exports/NAME of the result)"
    )
    for name, text in (
        ("--animation", "section over all stages as GIF"),
        ("--vtu", "mesh and fields of the part as VTU"),
        ("--outline", "both faces of the part as DXF drawing in mm"),
        ("--markdown", "verdict and all tables as Markdown"),
    ):
        export.add_argument(name, action="store_true", help=f"{text}; none of these means all")
    export.add_argument(
        "--stage",
        action="append",
        default=[],
        metavar="STAGE",
        help="name or number of a stage for --vtu and --outline, or all; else the finished part",
    )
    export.add_argument("--replace", action="store_true", help="write over files that are there")


def add_view(view: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim view``."""
    view.add_argument("result", type=result_folder, help="result folder")


def _add_case(command: argparse.ArgumentParser, folder: str, above: str, earlier: str) -> None:
    """A case file and the folder for what is made of it."""
    command.add_argument("case", type=Path, help="case file (TOML)")
    command.add_argument(
        "--into",
        type=Path,
        metavar="DIR",
        help=f"{folder} (default: {above}/<name of the case file>)",
    )
    command.add_argument("--replace", action="store_true", help=f"overwrite {earlier} there")


def add_report(report: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim report``."""
    report.add_argument("result", type=result_folder, help="folder of a result or of a study")
    report.add_argument(
        "--into", type=Path, metavar="DIR", help="folder for the page (default: that folder)"
    )


def add_compare(compare: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim compare``."""
    compare.add_argument(
        "results",
        type=result_folder,
        nargs="+",
        metavar="RESULT",
        help="result folder, 2 to 20 of them",
    )
    compare.add_argument(
        "--against",
        type=result_folder,
        metavar="RESULT",
        help="result that differences are taken to (default: the first)",
    )
    compare.add_argument(
        "--into",
        type=Path,
        default=Path("results") / "comparison",
        metavar="DIR",
        help="folder for page, table and figures (default: %(default)s)",
    )
    compare.add_argument(
        "--replace", action="store_true", help="overwrite an earlier comparison there"
    )


def add_material(materials: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim materials``."""
    materials.add_argument(
        "name",
        nargs="?",
        help="show this one, or a card file, with every value and its source",
    )
    materials.add_argument(
        "--into", type=Path, metavar="DIR", help="write a picture of its flow curve there"
    )


def add_tensile(tensile: argparse.ArgumentParser) -> None:
    """Arguments of ``formsim tensile``."""
    add = tensile.add_argument
    add("files", nargs="*", type=Path, metavar="FILE", help="repeats of one test, text of columns")
    add("--headers", action="store_true", help="only list the headers that are understood")
    add("--name", default="", metavar="NAME", help="name of the card, needed")
    add("--into", type=Path, metavar="DIR", help="folder for card and figures, needed")
    add(
        "--fracture",
        metavar="QUANTITY=VALUE",
        help="what was measured of the break: reduction_of_area or elongation [%%], area_strain or"
        " thickness_strain; a round bar is pulled to it for the critical damage of the card",
    )
    add("--oyane", metavar="OFFSET", help="critical damage by Oyane, not by Cockcroft and Latham")
    add("--card", metavar="CARD", help="pull the bar of this material or card file, not of tests")
    add("--replace", action="store_true", help="write over files of an earlier card there")
    for name, text in (
        ("--gauge-length", "first gauge length [mm], needed for an extension"),
        ("--width", "first width [mm], needed for a force or a change of width"),
        ("--thickness", "first thickness [mm], needed for a force"),
        ("--young", 'Young\'s modulus [MPa, or "70 GPa"]; else the elastic slope if it can be'),
        ("--poisson", "Poisson's ratio; else that usual for the metal"),
        ("--density", "density [kg/m3]; else that usual for the metal"),
    ):
        add(name, metavar="X", help=text)
    add("--metal", choices=("aluminium", "steel"), help="metal whose usual constants are taken")
    add(
        "--column",
        action="append",
        default=[],
        metavar="QUANTITY[@FILE]=COLUMN:UNIT",
        help="say which column, by header or number, holds what, in every file or in one:"
        ' force="Channel 2:kN"',
    )
    _add_angles(tensile)
    for name, what in (("--n-range", "n"), ("--r-range", "r")):
        text = f"plastic strains between which {what} is taken [%%]"
        add(name, nargs=2, type=float, metavar=("FROM", "TO"), help=text)
    add("--fit", metavar="LAW", help="law of the card; else the recommended one")
    add("--drop-loops", action="store_true", help="leave unloading loops out")
    add("--invented", action="store_true", help="mark the card as invented data")
    add("--case", type=Path, metavar="CASE", help="run this case once with each fitted law")
    add("--columns", type=int, metavar="N", help="mesh columns for --case; fewer are faster")


def _add_angles(tensile: argparse.ArgumentParser) -> None:
    tensile.add_argument(
        "--angle",
        metavar="DEG",
        help="of the tests to the rolling direction (default: 0 degrees)",
    )
    tensile.add_argument(
        "--at",
        nargs="+",
        action="append",
        default=[],
        metavar=("DEG", "FILE"),
        help="tests at another angle, for the r-values; once for each angle",
    )


def add_sizes(necks: argparse.ArgumentParser) -> None:
    """Sizes of ``formsim necks``."""
    necks.add_argument(
        "--from", dest="body", type=float, required=True, metavar="D", help="body diameter [mm]"
    )
    necks.add_argument(
        "--to", dest="neck", type=float, required=True, metavar="D", help="neck diameter [mm]"
    )
    necks.add_argument("--steps", type=int, required=True, metavar="N", help="number of dies")
    necks.add_argument(
        "--thickness",
        type=float,
        default=0.15,
        metavar="T",
        help="wall at the rim [mm] (%(default)s)",
    )
    necks.add_argument(
        "--length", type=float, default=4.0, metavar="L", help="neck to make [mm] (%(default)s)"
    )
