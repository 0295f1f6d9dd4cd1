"""A second encoder of both serial formats, for the tests to hold the first against.

It was written from the description in doc.go alone and shares nothing with the
Go code: the CRC is that of zlib, the stuffing works on blocks that are split
at the zeros rather than byte by byte. Standard library only.

    python3 peer.py < messages > bytes

reads a message a line, as JSON: {"format": "binary", "hello": {...}}, or
{"format": "text", "foot": 0, "seq": 1, "t_us": 2, "counts": [3, ...], "checksum": true};
writes what a strip that says them would send.
"""

import functools
import json
import operator
import struct
import sys
import zlib


def stuff(data):
    """COBS (Cheshire & Baker 1999), without a 01 after a final block of 254."""
    out = bytearray()
    runs = data.split(b"\0")
    for i, run in enumerate(runs):
        last_run = i == len(runs) - 1
        while len(run) > 254 or (len(run) == 254 and not last_run):
            out += b"\xff" + run[:254]
            run = run[254:]
        out.append(len(run) + 1)
        out += run
    return bytes(out)


def packet(body):
    return stuff(body + struct.pack("<I", zlib.crc32(body))) + b"\0"


def announcement(hello):
    return json.dumps(hello, separators=(",", ":"), ensure_ascii=False).encode()


def binary(m):
    if "hello" in m:
        return packet(b"\x01" + announcement(m["hello"]))
    head = struct.pack("<BBHI", 2, m["foot"], m["seq"], m["t_us"])
    return packet(head + struct.pack("<%dH" % len(m["counts"]), *m["counts"]))


def text(m):
    if "hello" in m:
        return b"# " + announcement(m["hello"]) + b"\n"
    line = ",".join(str(n) for n in [m["t_us"], *m["counts"]]).encode()
    if m["checksum"]:
        line += b"*%02X" % functools.reduce(operator.xor, line)
    return line + b"\n"


def main():
    write = {"binary": binary, "text": text}
    for line in sys.stdin.buffer:
        m = json.loads(line)
        sys.stdout.buffer.write(write[m["format"]](m))


if __name__ == "__main__":
    main()
