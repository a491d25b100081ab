"""Rules that do what no rule should, as the text of a file of rules."""

from __future__ import annotations

HEAD = """\
from __future__ import annotations
import ctypes, json, os, signal, subprocess, sys, threading, time
from cfglint.craft import Craft, Missing, NotForThisCraft
from cfglint.rule import Drop, Edit, Finding, Options, Put, Related, Respell, rule
from cfglint.span import Span

class Dumb(Exception):
    def __str__(self):
        raise ValueError("no text")

class Base(BaseException):
    pass

def deep(n=0):
    return deep(n + 1)

def tells(told):
    # In place of what came of the rule.
    data = told if isinstance(told, bytes) else json.dumps(told).encode()
    for number in range(3, 40):
        try:
            os.write(number, len(data).to_bytes(8, "big") + data)
        except OSError:
            pass
    os._exit(0)

def found(craft, **more):
    return Finding(**{"span": craft.whole, "message": "m"} | more)
"""

RULE = """
@rule("{id}", grade="fix", title="t", why="w", source="common practice")
def {name}(craft: Craft, options: Options):
    {body}
    return ()
"""

#: What the function of a rule may do, by the end of the rule's name.
BODIES = {
    "exits": "sys.exit(0)",
    "exits-hard": "os._exit(0)",
    "generator-exit": "raise GeneratorExit",
    "interrupts": "raise KeyboardInterrupt",
    "base": "raise Base('x')",
    "recursion": "deep()",
    "dumb": "raise Dumb",
    "prints": "print('[]')",
    "prints-beneath": "os.write(1, b'{}')",
    "prints-elsewhere": "subprocess.run(['echo', 'hello'])",
    "closes-output": "sys.stdout.close()",
    "closes-output-beneath": "os.close(1)",
    "closes-everything": "os.closerange(0, 200)",
    "forks": "os.fork()",
    "forks-and-hangs": "(os.fork() or time.sleep(60))",
    "asks": "input('?')",
    "kills": "os.kill(os.getpid(), signal.SIGKILL)",
    "crashes": "ctypes.string_at(0)",
    "for-ever": "\n    while True: pass",
    "for-ever-and-stubborn": """
    while True:
        try:
            time.sleep(60)
        except BaseException:
            pass""",
    "memory": "return [found(craft, message=str([0] * 10**12))]",
    "renames": "craft.name = 'Other'",
    "renames-beneath": "object.__setattr__(craft, 'name', 'Other')",
    "puts-value": "craft.values['motor.signal'] = None",
    "puts-value-beneath": "dict.__setitem__(craft.values, 'motor.signal', None)",
    "clears": "craft.values.clear()",
    "puts-card": "craft.card.values.clear()",
    "yields-text": "return ['text']",
    "yields-none": "return None",
    "yields-number": "return 7",
    "yields-for-ever": """
    while True:
        yield found(craft)""",
    "message-number": "return [found(craft, message=7)]",
    "message-long": "return [found(craft, message='x' * 5_000_000)]",
    "instead-list": "return [found(craft, instead=['x'])]",
    "grade-odd": "return [found(craft, grade='worst')]",
    "related-text": "return [found(craft, related='text')]",
    "related-span": "return [found(craft, related=(Related(7, 'x'),))]",
    "related-message": "return [found(craft, related=(Related(craft.whole, b'x'),))]",
    "fix-text": "return [found(craft, fix=(craft.whole,))]",
    "fix-number": "return [found(craft, fix=(Edit(craft.whole, 7),))]",
    "span-tuple": "return [found(craft, span=('a', 1, 1, 1, 1))]",
    "span-true": "return [found(craft, span=Span(craft.file, 1, True, 1, 1))]",
    "span-text": "return [found(craft, span=Span(craft.file, '1', 1, 1, 1))]",
    "span-half": "return [found(craft, span=Span(craft.file, 1.5, 1, 2, 1))]",
    "span-zero": "return [found(craft, span=Span(craft.file, 0, 1, 1, 1))]",
    "span-backwards": "return [found(craft, span=Span(craft.file, 1, 9, 1, 2))]",
    "span-huge": "return [found(craft, span=Span(craft.file, 1, 1, 10**400, 1))]",
    "span-file": "return [found(craft, span=Span(None, 1, 1, 1, 1))]",
    "span-beyond": "return [found(craft, span=Span(craft.file, 9_999, 1, 9_999, 1))]",
    "span-beyond-line": "return [found(craft, span=Span(craft.file, 1, 1, 1, 9_999))]",
    "span-elsewhere": "return [found(craft, span=Span('/etc/passwd', 1, 1, 1, 2))]",
    "related-elsewhere": "return [found(craft, related=(Related(Span('x', 1, 1, 1, 1), 'y'),))]",
    "fix-beyond": "return [found(craft, fix=(Edit(Span(craft.file, 9_999, 1, 9_999, 1), 'x'),))]",
    "drop-beyond": "return [found(craft, edits=(Drop(Span(craft.file, 1, 1, 9**8, 1)),))]",
    "drop-of-card": "return [found(craft, edits=(Drop(Span(craft.card.file, 1, 1, 1, 1)),))]",
    "respell-lines": "return [found(craft, edits=(Respell(craft.whole, 'a\\nb'),))]",
    "put-nowhere": "return [found(craft, edits=(Put('motor.colour', 1),))]",
    "put-family": "return [found(craft, edits=(Put('channel.N.low_us', 1000),))]",
    "put-kind": "return [found(craft, edits=(Put('motor.two_way', 'yes'),))]",
    "put-number": "return [found(craft, edits=(Put('motor.poles', 'many'),))]",
    "put-endless": "return [found(craft, edits=(Put('motor.idle_percent', float('nan')),))]",
    "put-lines": "return [found(craft, edits=(Put('craft.name', 'a\\nb'),))]",
    "tells-nothing": "tells(b'')",
    "tells-half": "tells(b'[7')",
    "tells-deep": "tells(b'[' * 100_000)",
    "tells-odd-fault": "tells(['fault', 7])",
    "tells-odd-value": "tells(['value', {'a': 1}])",
    "tells-other-kind": "tells(['value', ['tuple', 'holds', ['Craft']]])",
    "tells-odd-finding": "tells(['value', ['tuple', 'broken', ['tuple', ['Finding', 1, 'm']], "
    "['tuple'], '', ['tuple']]])",
    "tells-odd-state": "tells(['value', ['tuple', ['list'], ['tuple'], ['tuple'], '', ['tuple']]])",
    "missing-number": "raise Missing(7, 'dump')",
    "missing-nowhere": "raise Missing('motor.signal', 'the moon')",
    "missing-list": "yield Missing(['x'], 'card')",
    "not-for-number": """
    class Odd(NotForThisCraft):
        __str__ = lambda self: 7
    raise Odd""",
}

#: What a file may do while it is loaded, by the file's name.
FILES = {
    "exits": "sys.exit(0)",
    "exits_hard": "os._exit(0)",
    "generator_exit": "raise GeneratorExit",
    "interrupts": "raise KeyboardInterrupt",
    "prints": "print('{}')",
    "closes": "sys.stdout.close()",
    "closes_beneath": "os.close(1)",
    "forks": "os.fork()",
    "recursion": "deep()",
    "dumb": "raise Dumb",
    "kills": "os.kill(os.getpid(), signal.SIGKILL)",
    "asks": "input()",
    "hook_exits": "def cfglint_rules():\n    sys.exit(0)",
    "hook_yields": "def cfglint_rules():\n    yield made._replace(id='bad/x')\n    os._exit(0)",
    "rule_id": "made = made._replace(id=7)",
    "rule_title": "made = made._replace(title=None)",
    "rule_long": "made = made._replace(why='x' * 5_000_000)",
    "rule_lone": "made = made._replace(title='\\ud800')",
    "rule_grade": "made = made._replace(grade='worst')",
    "rule_aliases": "made = made._replace(aliases='ab')",
    "rule_options": "made = made._replace(options=(7,))",
    "rule_examples": "made = made._replace(examples=('x',))",
    "rule_check": "made = made._replace(check=7)",
}

#: What a file may do while it is loaded that nobody else may notice, by the file's name.
QUIET = {
    "leaves_thread": "threading.Thread(target=time.sleep, args=(60,)).start()",
    "goes_elsewhere": "os.chdir('/')",
    "at_exit": "import atexit; atexit.register(lambda: (os.write(1, b'x'), os._exit(0)))",
    "alarm": "signal.signal(signal.SIGALRM, lambda *_: os._exit(0))\n"
    "signal.setitimer(signal.ITIMER_REAL, 0.05)",
    "ignores_signals": "signal.signal(signal.SIGINT, signal.SIG_IGN)",
    "recodes_output": "sys.stdout.reconfigure(encoding='utf-16')",
    "environment": "os.environ.clear(); os.environ['CFGLINT_RULES'] = '/'",
    "recursion_limit": "sys.setrecursionlimit(60)",
    "collector": "import gc; gc.callbacks.append(lambda *_: os._exit(0))",
    "no_collector": "import gc; gc.disable()",
    "audit": "sys.addaudithook(lambda event, _: event == 'open' and os._exit(0))",
    "trace": "sys.settrace(lambda *_: os._exit(0))",
    "excepthook": "sys.excepthook = sys.unraisablehook = lambda *_: os._exit(0)",
    "no_modules": "for name in [*sys.modules]: del sys.modules[name]",
    "path": "sys.path[:] = []; sys.meta_path.clear()",
    "asks_nobody": "import cfglint.foreign as f\n"
    "from cfglint.rule import Outcome\n"
    "f._here = lambda one: Outcome(*one[:2], 'holds')\n"
    "f.judge = lambda one, craft, options: Outcome(one, craft, 'holds')",
    "trusts_all": "import cfglint.foreign as f; f.is_ours = f.checked = lambda *_: True",
    "blinds_craft": "Craft.need = Craft.get = Craft.place = property(lambda *_: 1 / 0)",
    "blinds_findings": "Finding.__new__ = lambda *_, **__: os._exit(0)",
    "empties_packs": "import cfglint_rules; cfglint_rules.cfglint_rules = list",
    "poses_as_ours": "made.check.__module__ = 'cfglint.rule'",
    "poses_as_built_in": "made = made._replace(pack='builtin')",
    "builtins": "import builtins; builtins.sorted = builtins.len = lambda *_, **__: 0",
    "json": "import json; json.dumps = json.loads = lambda *_: ['value', None]",
    "limits": "import resource; resource.setrlimit(resource.RLIMIT_NOFILE, (0, 0))",
    "umask": "os.umask(0o777)",
    "nice": "os.nice(10)",
    "locale": "import locale; locale.setlocale(locale.LC_ALL, 'C')",
    "warnings": "import warnings; warnings.simplefilter('error')",
    "decimal": "import decimal; decimal.getcontext().prec = 1",
    "other_group": "os.setpgid(0, 0)",
    "session": "try: os.setsid()\nexcept OSError: pass",
}


def bad_rules(bodies: dict[str, str]) -> str:
    """A file with a rule ``bad/NAME`` for each."""
    rows = [
        RULE.format(id=f"bad/{name}", name=name.replace("-", "_"), body=body)
        for name, body in bodies.items()
    ]
    return HEAD + "".join(rows)


def bad_file(name: str) -> str:
    rule = RULE.format(id=f"bad/{name.replace('_', '-')}", name="made", body="pass")
    return f"{HEAD}{rule}\n{(FILES | QUIET)[name]}\n"
