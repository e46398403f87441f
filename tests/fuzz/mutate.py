"""Damage to files: bytes flipped, cut, doubled, spliced, and words swapped for nasty ones."""

import io
import zipfile

NASTY = (
    b"",
    b"0",
    b"-0",
    b"-1",
    b"1e308",
    b"1e999",
    b"-1e-999",
    b"nan",
    b"inf",
    b"-inf",
    b"9" * 30,
    b"9" * 5000,
    b"18446744073709551616",
    b"0x10",
    b"1_0",
    b"1,234",
    b"1.234,5",
    b"true",
    b"null",
    b"[]",
    b"{}",
    b"[" * 3000,
    b'{"a":' * 2000,
    b'"',
    b'"""',
    b"'",
    b"\\",
    b"\\u0000",
    b"\\ud800",
    b"\\U0010ffff",
    b"\x00",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\xc3\x28",
    b"\xf0\x9f\x92\xa5",
    b"\xe2\x80\xae",
    b"\xe2\x80\xa8",
    b"\xc2\xa0",
    b"\r",
    b"\n",
    b"\r\n",
    b"\t",
    b";",
    b",",
    b"=",
    b"=1+1",
    b"@x",
    b"..",
    b"../../x",
    b"/etc/passwd",
    b"C:\\x",
    b"a" * 10_000,
    b"<!DOCTYPE a [<!ENTITY b 'c'>]>",
    b"&b;",
    b"<c/>",
    b"</row>",
    b"<![CDATA[",
    b"1979-05-27T07:32:00Z",
    b"0000-00-00",
    b"9999-12-31T23:59:59.999999+00:00",
    b"25:61:61",
    b"#DIV/0!",
    b"n/a",
    b">250",
    b"<0.01",
    b"45 %",
    b"mm",
    b"N",
    b"run",
    b"run 1",
    b"part 2",
    b"__import__('os')",
    b"dwell * dwell^9",
    b"schema",
    b"settles",
    b"failed",
    b"excluded",
    b"XFD1048576",
    b"A0",
    b"s",
    b"99999999",
)
SEPARATORS = b' ,;:\t\n"=[]{}<>/()'


def damaged(data, rng, *, others=()):
    """Return bytes after one to four mutations; `others` are files to splice from."""
    for _ in range(int(rng.integers(1, 4))):
        data = MUTATIONS[int(rng.integers(len(MUTATIONS)))](data, rng, others)
    return data


def damaged_zip(data, rng, *, others=()):
    """Return a packed file with one of its members damaged, or its own bytes."""
    kind = int(rng.integers(10))
    if kind < 3:
        return damaged(data, rng, others=others)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            members = [(one.filename, packed.read(one)) for one in packed.infolist()]
    except (zipfile.BadZipFile, OSError):
        return damaged(data, rng)
    which = int(rng.integers(len(members)))
    name, inside = members[which]
    if kind == 3:
        del members[which]
    elif kind == 4:
        members.append((name, inside))
    elif kind == 5:
        members[which] = (members[int(rng.integers(len(members)))][0], inside)
    else:
        members[which] = (name, damaged(inside, rng, others=[one for _, one in members]))
    return packed_again(members)


def packed_again(members):
    """Return a packed file of (name, bytes) pairs."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for name, inside in members:
            # A name twice is wanted here; the library only warns of it.
            packed.fp.flush()
            info = zipfile.ZipInfo(name)
            if name in packed.NameToInfo:
                del packed.NameToInfo[name]
            packed.writestr(info, inside)
    return stream.getvalue()


def _place(data, rng):
    return int(rng.integers(len(data) + 1))


def _span(data, rng):
    start = _place(data, rng)
    return start, min(len(data), start + int(rng.geometric(0.05)))


def _flip(data, rng, _others):
    if not data:
        return data
    out = bytearray(data)
    for _ in range(int(rng.integers(1, 4))):
        out[int(rng.integers(len(out)))] ^= 1 << int(rng.integers(8))
    return bytes(out)


def _random_bytes(data, rng, _others):
    start, end = _span(data, rng)
    return data[:start] + rng.bytes(end - start) + data[end:]


def _cut(data, rng, _others):
    return data[: _place(data, rng)]


def _take_out(data, rng, _others):
    start, end = _span(data, rng)
    return data[:start] + data[end:]


def _double(data, rng, _others):
    start, end = _span(data, rng)
    return data[:end] + data[start:end] * int(rng.integers(1, 4)) + data[end:]


def _insert(data, rng, _others):
    place = _place(data, rng)
    return data[:place] + NASTY[int(rng.integers(len(NASTY)))] + data[place:]


def _splice(data, rng, others):
    if not others:
        return _double(data, rng, others)
    other = others[int(rng.integers(len(others)))]
    start, end = _span(other, rng)
    place = _place(data, rng)
    return data[:place] + other[start:end] + data[place:]


def _word(data, rng):
    """Return where a word begins and ends, found around a random place."""
    place = _place(data, rng)
    start = place
    while start and data[start - 1] not in SEPARATORS:
        start -= 1
    end = place
    while end < len(data) and data[end] not in SEPARATORS:
        end += 1
    return start, end


def _swap_word(data, rng, _others):
    start, end = _word(data, rng)
    return data[:start] + NASTY[int(rng.integers(len(NASTY)))] + data[end:]


def _swap_words(data, rng, _others):
    (a, b), (c, d) = sorted((_word(data, rng), _word(data, rng)))
    if b > c:
        return data
    return data[:a] + data[c:d] + data[b:c] + data[a:b] + data[d:]


def _lines(data, rng, _others):
    lines = data.split(b"\n")
    one, other = (int(rng.integers(len(lines))) for _ in range(2))
    kind = int(rng.integers(3))
    if kind == 0:
        lines[one], lines[other] = lines[other], lines[one]
    elif kind == 1:
        lines.insert(one, lines[other])
    else:
        del lines[one]
    return b"\n".join(lines)


MUTATIONS = (
    _flip,
    _random_bytes,
    _cut,
    _take_out,
    _double,
    _insert,
    _splice,
    _swap_word,
    _swap_word,
    _swap_word,
    _swap_words,
    _lines,
    _lines,
)
