"""Checking many files in several processes.

Forked, so that rules, dialects and cards need not be loaded again; only flat records come back.
Imported only when it pays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.runner.check import Checked, Checker
    from cfglint.runner.discover import Dump
    from cfglint.runner.lint import Tell

_CHECKER: list[Checker] = []


def check_in_parallel(
    checker: Checker, dumps: Sequence[Dump], processes: int, tell: Tell | None = None
) -> list[Checked]:
    """What each dump came to, in the order of ``dumps``; ``tell`` as in Request.

    Should a worker be killed (by the system, for want of memory, say), everything is checked
    here instead, one file after the other.
    """
    import gc
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    _CHECKER[:] = [checker]
    collecting = gc.isenabled()
    gc.disable()
    gc.freeze()  # what is there already is not looked through (and so not copied) in workers
    try:
        # Few large portions cost little to hand over, more than one each evens them out.
        portion = max(1, len(dumps) // (processes * 4))
        with ProcessPoolExecutor(processes, mp_context=get_context("fork")) as pool:
            checked: list[Checked] = []
            for one in pool.map(_check, dumps, chunksize=portion):
                if tell is not None:
                    tell(len(checked), len(dumps), dumps[len(checked)].file)
                checked.append(one)
            return checked
    except BrokenProcessPool:
        return [checker.check(dump) for dump in dumps]
    finally:
        _CHECKER.clear()
        gc.unfreeze()
        if collecting:
            gc.enable()


def _check(dump: Dump) -> Checked:
    return _CHECKER[0].check(dump)
