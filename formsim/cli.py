"""The command line: the only place that prints."""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
import time
import traceback
from collections.abc import Callable, Mapping
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from formsim import options as asked
from formsim.errors import ConvergenceError, FormsimError, RefusedError
from formsim.layout import SUMMARY
from formsim.pipeline.progress_line import ProgressLine, stoppable
from formsim.version import VERSION

if TYPE_CHECKING:
    from formsim.case.schema import Case
    from formsim.pipeline.run import Run

DONE, BAD_INPUT, NOT_CONVERGED, CHECK_FAILED, INTERRUPTED = 0, 1, 2, 3, 130
_CODES = {"interrupted": INTERRUPTED, "refused": BAD_INPUT}
CAUTION = (
    "Results guide design. They do not release a tool, a press or a pressurised container:\n"
    "local codes and licensed practice do."
)


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    given = sys.argv[1:] if arguments is None else arguments
    parser = _parser()
    if not given:
        parser.print_help()
        return DONE
    try:
        options = parser.parse_args(given)
    except SystemExit as end:
        return BAD_INPUT if end.code else DONE
    try:
        code: int = options.command(options)
    except FormsimError as error:
        if options.debug:
            traceback.print_exc()
        print(f"formsim: {error}", file=sys.stderr)
        if error.hint:
            print(f"  try: {error.hint}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("formsim: stopped by Ctrl-C", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="formsim",
        description="Draw, iron, dome, neck and flange a sheet body, and see where it gets thin.",
        epilog="Exit codes: 0 done; 1 bad input; 2 no equilibrium found, or the sheet has torn;"
        " 3 done, but a check failed; 130 stopped by Ctrl-C.",
    )
    parser.add_argument("--version", action="version", version=f"formsim {VERSION}")
    parser.add_argument("--debug", action="store_true", help="show the traceback of an error")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(
        name: str, function: Callable[[argparse.Namespace], int], text: str
    ) -> argparse.ArgumentParser:
        inner = name == "worker"  # Studies call it, a user never does: help does not list it.
        add = commands.add_parser
        sub = add(name, description=text) if inner else add(name, help=text, description=text)
        sub.register("action", None, asked.Once)
        sub.add_argument(
            "--debug",
            action="store_true",
            default=argparse.SUPPRESS,
            help="show the traceback of an error",
        )
        sub.set_defaults(command=function)
        return sub

    asked.add_new(command("new", _new, "write a commented case file to start from"))
    asked.add_check(command("check", _check, "say what is wrong with a case or what it will do"))
    asked.add_run(command("run", _run, "solve a case"))
    asked.add_sweep(command("sweep", _sweep, "solve many variants of a case"))
    asked.add_seek(command("seek", _seek, "find inputs with which a case does what you want"))
    asked.add_predict(command("predict", _predict, "say what a study means for another variant"))
    asked.add_worker(command("worker", _worker, "solve variants of a planned study by their keys"))
    asked.add_drawings(command("drawings", _drawings, "write all tools of a case to DXF drawings"))
    asked.add_sizes(command("necks", _necks, "print the stages of a necking line for a case file"))
    asked.add_material(command("materials", _materials, "list the shipped materials, or show one"))
    asked.add_tensile(command("tensile", _tensile, "turn tensile tests into a material card"))
    asked.add_show(command("show", _show, "print the table of a result again"))
    asked.add_report(command("report", _report, "make the page of a result or a study again"))
    asked.add_compare(command("compare", _compare, "show finished results side by side"))
    asked.add_export(command("export", _export, "write a result in forms other programs read"))
    asked.add_view(command("view", _view, "show the part in a window, stage by stage"))
    return parser


def _new(options: argparse.Namespace) -> int:
    from formsim.case.template import write_template

    path = write_template(options.kind, options.into)
    print(f"{path} written; look at it, then: formsim check {path}")
    return DONE


def _check(options: argparse.Namespace) -> int:
    from formsim.case.load import load_case
    from formsim.report.check_text import check_texts

    case = load_case(options.case)
    texts = "\n\n".join(check_texts(case, full=options.full))
    print(f"{options.case}: {case.title} ({case.digest})\nsource: {case.source}\n")
    print(f"{texts}\n{CAUTION}")
    return DONE


def _run(options: argparse.Namespace) -> int:
    from formsim.case.load import load_case
    from formsim.report.rule_text import finding_lines
    from formsim.results.findings import findings

    case = load_case(options.case)
    into = options.into or Path("results") / options.case.stem
    # What is to be watched stands in the verdict; only what dooms the run is told before it.
    for finding in () if options.quiet else findings(case):
        if finding.verdict.startswith("will"):
            print("\n".join(finding_lines(asdict(finding))), file=sys.stderr)
    from formsim.pipeline.run import run_case

    line = _progress_line()
    text = options.case.read_text(encoding="utf-8-sig")
    try:
        with stoppable(line):
            run = run_case(
                case,
                into,
                text=text,
                replace=options.replace,
                watch=None if options.quiet else line.show,
                prepare=_prepare,
                exact=options.exact,
            )
            if options.error_bars:
                run = _with_error_bars(run, options, line)
    except (ConvergenceError, RefusedError, KeyboardInterrupt) as error:
        line.end()
        if options.error_bars and isinstance(error, FormsimError):
            print("no error bars: the run itself did not finish", file=sys.stderr)
        if (into / SUMMARY).is_file():
            _print_result(into)
        else:
            print(f"nothing was made, and nothing written into {into}", file=sys.stderr)
        raise
    finally:
        line.end()
    _print_result(into)
    return DONE if run.summary["passed"] else CHECK_FAILED


def _with_error_bars(run: Run, options: argparse.Namespace, line: ProgressLine) -> Run:
    """The family of runs behind a finished one; its result is on disk already."""
    from formsim.pipeline.error_bars import with_error_bars

    def tell(text: str) -> None:
        line.end()
        print(text, file=sys.stderr, flush=True)

    told = (None, None) if options.quiet else (line.show, tell)
    return with_error_bars(run, exact=options.exact, watch=told[0], tell=told[1])


def _sweep(options: argparse.Namespace) -> int:
    from formsim.study.asked import asked_of
    from formsim.study.call import call_of
    from formsim.study.findings_text import study_text
    from formsim.study.words import plan_text

    call = call_of(asked_of(vars(options)), options.into, options.workers, options.on)
    if options.plan:
        print(plan_text(call.plan, call.foreseen, call.solved, call.notes()))
        return DONE
    made, found = _conducted(call, options)
    warning = call.write_page()
    print(f"{study_text(made, found, call.folder, call.files())}\n{CAUTION}")
    if warning:
        print(warning, file=sys.stderr)
    return NOT_CONVERGED if "failed" in made.columns["status"] else DONE


def _conducted(call: Any, options: argparse.Namespace) -> Any:
    """What a call of a study or a search comes to, its progress shown."""
    from formsim.study.words import progress_text

    line = _progress_line()
    _prepare()
    if not options.quiet:
        print("".join(f"{told}\n" for told in call.notes()), end="", file=sys.stderr, flush=True)
    watch = None if options.quiet else lambda standing: line.tell(progress_text(standing))
    try:
        return call.conduct(replace=options.replace, watch=watch)
    except KeyboardInterrupt:
        line.end()
        print(f"what is solved stays in {call.folder}: the same command goes on", file=sys.stderr)
        raise
    finally:
        line.end()


def _seek(options: argparse.Namespace) -> int:
    from formsim.study.seek import search_of
    from formsim.study.seek_preview import preview_text
    from formsim.study.seek_text import seek_text

    search = search_of(vars(options))
    if options.plan:
        print(preview_text(search.preview()))
        return DONE
    found = _conducted(search, options)
    print(f"{seek_text(found, search.folder)}\n{CAUTION}")
    return DONE if found.holds else CHECK_FAILED


def _predict(options: argparse.Namespace) -> int:
    from formsim.study.kept import read_study
    from formsim.study.surrogate import predict
    from formsim.study.surrogate_text import predict_text

    print(f"{predict_text(predict(read_study(options.study), options.at))}\n{CAUTION}")
    return DONE


def _worker(options: argparse.Namespace) -> int:
    if options.share:
        from formsim.study.share import work_off

        work_off(options.study, options.share)
        return DONE
    from formsim.study.engine import FULL
    from formsim.study.worker import keys_from, work

    def tell(text: str) -> None:
        print(text, flush=True)
        if text.startswith(f"{FULL} "):
            # Libraries with open files complain at length when they close them on a full disk.
            os._exit(BAD_INPUT)

    work(options.study, options.key or keys_from(sys.stdin), tell)
    return DONE


def _print_result(folder: Path) -> dict[str, Any]:
    from formsim.report.table import kept_text, result_text
    from formsim.results.store import kept_files, load_summary

    summary = load_summary(folder)
    print(result_text(summary))
    print(f"{kept_text(summary, folder, kept_files(folder))}\n{CAUTION}", flush=True)
    return summary


def _prepare() -> None:
    """Compile the kernels before the clock of the first stage runs, and say so."""
    from formsim.stages.warmup import compile_kernels, is_compiled

    if not is_compiled():
        print(
            "first run on this machine: compiling the kernels ...",
            end="",
            file=sys.stderr,
            flush=True,
        )
        begin = time.perf_counter()
        compile_kernels()
        print(f" {time.perf_counter() - begin:.0f} s, kept for later", file=sys.stderr)


def _drawings(options: argparse.Namespace) -> int:
    from formsim.case.load import load_case
    from formsim.pipeline.drawings import write_drawings

    into = options.into or Path("drawings") / options.case.stem
    paths = write_drawings(load_case(options.case), into, replace=options.replace)
    drawings = [path.name for path in paths if path.suffix == ".dxf"]
    pictures = len(paths) - len(drawings)
    said = f"written into {into}: {', '.join(drawings)}; pictures of them: {pictures} files"
    print("\n".join(textwrap.wrap(said, 100)))
    return DONE


def _necks(options: argparse.Namespace) -> int:
    from formsim.case.tools import NeckDie
    from formsim.report.necks import necks_text

    sizes = (options.body, options.neck, options.steps, options.thickness, options.length)
    print(necks_text(*sizes, NeckDie(diameter=options.body)))
    return DONE


def _tensile(options: argparse.Namespace) -> int:
    from formsim.pipeline.critical_damage import broken_card_text
    from formsim.pipeline.curve_choice import cases_with_laws
    from formsim.pipeline.tensile import asked_of, evaluate_tests, known_headers, save_evaluation
    from formsim.report.tensile_tables import tensile_text, written_text

    given = vars(options)
    if options.headers or options.card:
        print(known_headers(given) if options.headers else broken_card_text(given, _prepare))
        return DONE
    done = evaluate_tests(asked_of(given), _prepare)
    cases = cases_with_laws(options.case, done, options.columns) if options.case else {}
    print(tensile_text(done.tests, done.ranking, done.assumed, done.warnings, done.broken))
    paths = save_evaluation(done, options.into, replace=options.replace)
    print(written_text(paths, done.chosen, done.ranking))
    if cases:
        _choose(cases, options.case.name)
    return DONE


def _choose(cases: Mapping[str, Case], name: str) -> None:
    """Run the case with every law and show what hangs on the choice."""
    from formsim.pipeline.curve_choice import answers
    from formsim.report.choice_table import choice_text

    _prepare()
    told = answers(cases, lambda law: print(f"{name} with {law} ...", file=sys.stderr, flush=True))
    print(f"\n{choice_text(told)}\n{CAUTION}")


def _materials(options: argparse.Namespace) -> int:
    from formsim.report.materials import shown_text

    print(shown_text(options.name, options.into))
    return DONE


def _show(options: argparse.Namespace) -> int:
    summary = _print_result(options.result)
    if summary["finished"]:
        return DONE if summary["passed"] else CHECK_FAILED
    return _CODES.get(str(summary.get("ended", "")), NOT_CONVERGED)


def _report(options: argparse.Namespace) -> int:
    from formsim.study.page.page import write_page

    print(f"{write_page(options.result, options.into).text()}\n{CAUTION}")
    return DONE


def _compare(options: argparse.Namespace) -> int:
    from formsim.pipeline.comparison import room_faults, save_comparison
    from formsim.report.comparison.compare import compare_results
    from formsim.report.comparison.text import comparison_text

    faults = room_faults(options.into, replace=options.replace)
    found = compare_results(options.results, options.against, faults=faults)
    try:
        paths = save_comparison(found, options.into, replace=options.replace)
    finally:
        print(comparison_text(found), flush=True)
    print(f"written: {paths[0]}, {paths[1].name} and figures/ ({len(paths) - 2} files)\n{CAUTION}")
    return DONE


def _export(options: argparse.Namespace) -> int:
    from formsim.pipeline.export import KINDS, export_result

    kinds = [kind for kind in KINDS if getattr(options, kind)]
    into = options.into or Path("exports") / options.result.resolve().name
    paths = export_result(options.result, into, kinds, options.stage, replace=options.replace)
    said = f"written into {into}: {', '.join(path.name for path in paths)}"
    print("\n".join(textwrap.wrap(said, 100)) + f"\n{CAUTION}")
    return DONE


def _view(options: argparse.Namespace) -> int:
    from formsim.report.view import show_part

    show_part(options.result)
    return DONE


def _progress_line() -> ProgressLine:
    put = partial(print, end="", file=sys.stderr, flush=True)
    return ProgressLine(sys.stderr.isatty(), put)
