"""Faults of files and options, made from a seed: what people's disks, editors and hands do."""

import gzip
import io
import os
import re
import zipfile

from lakekit.cli.main import build_parser

ODD_TEXTS = (
    "", " ", '"', "'", ",", ";", "\t", "\x00", "\x1b[2J", "\u202e", "\u200b", "\ufeff", "#", "=1+1",
    "-", "NaN", "inf", "1e400", "-1", "0", "999", "9999999999", "1,5", "1.234.567", "x" * 3000,
    "../../etc/passwd", "/etc/passwd", "été", "鱼", "🐟", "\ud7ff", "2025-02-30", "0000-00-00",
    "9999-12-31", "31/12/9999", "24:00", "99:99", "True", "[]", "{}", "None", "1 furlong", "3/0 oz",
    "1e308 m", "-40 F", "25:61", "2025-03-09 02:30", "١٢", "½",
)  # fmt: skip
ODD_TOML = (
    "[]", "{}", "[1, 2]", '["a"]', '""', '" "', '"x"', "true", "false", "-1", "0", "1", "1e308",
    "nan", "inf", "-inf", "9" * 30, "0x" + "f" * 600, "9" * 5000, "1979-05-27", "07:32:00",
    "1979-05-27T07:32:00Z", "[[[[]]]]", "{ a = { b = { c = 1 } } }", '"\\u0000"', '"\\u001b[2J"',
    '"\\u202e"', '"\\u200b"', '"../../../etc/passwd"', '"/dev/zero"', '"' + "y" * 4000 + '"',
    '"1e999 ft"', '"-5 ft"', '"5"', '"5 parsecs"', '{ jan = "5 ft", jul = [] }', "{ jan = 1 }",
    '{ juk = "5 ft" }', '"America/Nowhere"', '"../zoneinfo"', "[" * 400 + "]" * 400,
)  # fmt: skip
ENCODINGS = ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-8-sig", "cp1252", "latin-1")


def damaged(content, random):
    """Bytes after one to three accidents."""
    for _ in range(random.randint(1, 3)):
        size = len(content)
        at = random.randrange(size + 1)
        span = random.randint(1, max(1, min(size, 400)))
        kind = random.randrange(8)
        if kind == 0:
            content = content[:at]
        elif kind == 1:
            content = content[:at] + content[at + span :]
        elif kind == 2:
            content = content[:at] + content[at : at + span] * 2 + content[at + span :]
        elif kind == 3 and size:
            flipped = bytearray(content)
            for _ in range(random.randint(1, 8)):
                flipped[random.randrange(size)] ^= 1 << random.randrange(8)
            content = bytes(flipped)
        elif kind == 4:
            content = content[:at] + random.randbytes(random.randint(1, 40)) + content[at:]
        elif kind == 5:
            odd = random.choice(ODD_TEXTS).encode("utf-8", "surrogatepass")
            content = content[:at] + odd + content[at:]
        elif kind == 6:
            content = content[:at] + b"\x00" * span + content[at:]
        else:
            start = random.randrange(size + 1)
            content = content[:at] + content[start : start + span] + content[at:]
    return content


def odd_table(content, random):
    """A text table with odd cells, separators, line ends, quotes or encoding."""
    text = content.decode()
    lines = text.splitlines()
    separator = ","
    for _ in range(random.randint(1, 4)):
        kind = random.randrange(7)
        number = random.randrange(len(lines))
        cells = lines[number].split(separator)
        if kind <= 2:
            cells[random.randrange(len(cells))] = random.choice(ODD_TEXTS)
            lines[number] = separator.join(cells)
        elif kind == 3:
            cells[random.randrange(len(cells))] = '"' + random.choice(cells)
            lines[number] = separator.join(cells)
        elif kind == 4:
            lines[number] = separator.join([*cells, random.choice(ODD_TEXTS)])
        elif kind == 5:
            lines[number] = separator.join(cells[: random.randrange(len(cells) + 1)])
        else:
            del lines[number]
            lines = lines or [""]
    if random.random() < 0.2:
        mark = random.choice(";\t|")
        lines = [line.replace(separator, mark) for line in lines]
    text = random.choice(("\n", "\n", "\r\n", "\r", "\n\n")).join(lines)
    if random.random() < 0.2:
        return text.encode(random.choice(ENCODINGS), "replace")
    return text.encode("utf-8", "replace")


def odd_toml(content, random):
    """A TOML file with values of a wrong kind, keys twice or unknown, or sections out of place."""
    lines = content.decode().splitlines()
    keys = [number for number, line in enumerate(lines) if re.match(r"^\s*\w+\s*=", line)]
    for _ in range(random.randint(1, 3)):
        kind = random.randrange(10)
        number = random.choice(keys)
        name = lines[number].partition("=")[0].strip()
        if kind <= 6:
            lines[number] = f"{name} = {random.choice(ODD_TOML)}"
        elif kind == 7:
            lines[number] = f"{random.choice(ODD_TEXTS)!r} = {random.choice(ODD_TOML)}"
        elif kind == 8:
            lines.insert(number, f"[{random.choice(('weather', 'flow', 'rules', 'log', 'boat'))}]")
            keys = [n + (n >= number) for n in keys]
        else:
            lines[number] = f"# {lines[number]}"
    return "\n".join(lines).encode("utf-8", "replace")


def odd_workbook(content, random):
    """A workbook with a damaged part inside, or damaged as a whole."""
    if random.random() < 0.4:
        return damaged(content, random)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        names = old.namelist()
        victim = random.choice(names)
        for name in names:
            part = old.read(name)
            if name == victim:
                if random.random() < 0.15:
                    continue
                part = damaged(part, random)
            new.writestr(name, part)
    return out.getvalue()


def odd_gzip(content, random):
    """A packed table, damaged before or after packing."""
    if random.random() < 0.5:
        return gzip.compress(odd_table(content, random), 1)
    return damaged(gzip.compress(content, 1), random)


def odd_place(path, random):
    """Something else where the file was: nothing, a folder, a pipe, links in a circle."""
    path.unlink()
    kind = random.randrange(7)
    if kind == 0:
        path.mkdir()
    elif kind == 1:
        os.mkfifo(path)
    elif kind == 2:
        path.symlink_to(path)
    elif kind == 3:
        path.symlink_to("/dev/zero")
    elif kind == 4:
        path.symlink_to("/etc/passwd")
    elif kind == 5:
        path.write_bytes(b"")


def odd_options(random):
    """One command line: sound options of one command, but for one or two values."""
    command, parser = random.choice(_leaves(build_parser()))
    given = []
    for action in parser._actions:
        wanted = action.required or (action.nargs is None and not action.option_strings)
        unasked = action.dest in ("help", "club", "out", "quiet")
        if unasked or not (wanted or random.random() < 0.4):
            continue
        value = () if action.nargs == 0 else (_sound(action, random),)
        given.append([*action.option_strings[-1:], *value])
    valued = [words for words in given if not words[-1].startswith("-")]
    for _ in range(random.randint(1, 2)):
        if valued and random.random() < 0.9:
            chosen = random.choice(valued)
            chosen[-1] = random.choice((*ODD_TEXTS, "a\x00b", "--", "-x", "y" * 300))
    random.shuffle(given)
    return [*command, *(word for words in given for word in words)]


def _leaves(parser, path=()):
    """Every command of a parser that takes options itself: (words, parser)."""
    below = [action.choices for action in parser._actions if isinstance(action.choices, dict)]
    if not below:
        return [(path, parser)]
    return [leaf for name, sub in below[0].items() for leaf in _leaves(sub, (*path, name))]


def _sound(action, random):
    """A value that the option takes: the example of its help, where it has one."""
    example = re.fullmatch(r'"(.+)"', str(action.metavar or ""))
    if example:
        return example[1]
    if action.type in (int, float):
        return random.choice(("1", "3", "12"))
    usual = {"lake": "pond", "lakes": "pond", "start": "2025-08", "month": "2025-08",
             "wind": "25 mph", "since": "2025-06-20", "air": "55 F", "rain": "1 in",
             "weight": "1/8 oz", "rods": "12 ft", "date": "2025-06-20"}  # fmt: skip
    return usual.get(action.dest, action.default or "nylon")
