"""Watches what a forked process asks of the system: to log it, or to end the process at one such call.

Pure Python by ``ptrace`` and a ``seccomp`` filter, so that neither a compiler nor another program is needed; only
calls that change files or open sockets stop the process. Linux on x86-64; elsewhere `available` says no.
"""

from __future__ import annotations

import contextlib
import ctypes
import functools
import os
import platform
import signal
import struct
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

_CALLS = {
    1: "write", 18: "pwrite", 20: "writev", 296: "pwritev", 74: "fsync", 75: "fdatasync", 77: "ftruncate", 82: "rename",
    264: "renameat", 316: "renameat2", 87: "unlink", 263: "unlinkat", 83: "mkdir", 258: "mkdirat", 84: "rmdir", 2: "open",
    257: "openat", 85: "creat", 86: "link", 265: "linkat", 285: "fallocate", 41: "socket", 42: "connect", 49: "bind",
    91: "fchmod", 90: "chmod", 76: "truncate", 326: "copy_file_range", 40: "sendfile",
}  # fmt: skip
"""System calls of Linux on x86-64 (arch/x86/entry/syscalls/syscall_64.tbl)."""

_NETWORK = frozenset({"socket", "connect", "bind"})
_TRACEME, _GETREGS, _CONT, _SETOPTIONS = 0, 12, 7, 0x4200
_OPTIONS = 0x2 | 0x4 | 0x8 | 0x80 | 0x100000  # fork, vfork, clone, seccomp, end with the tracer
_SECCOMP_STOP = signal.SIGTRAP | 7 << 8
_WALL = 0x40000000
_AT_FDCWD = -100

_libc = ctypes.CDLL(None, use_errno=True)
if sys.platform == "linux":
    _libc.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]
    _libc.ptrace.restype = ctypes.c_long


@dataclass(frozen=True)
class Call:
    """One call about to be made: its name, the file it is about, and what it brings.

    Attributes
    ----------
    name : str
        ``write`` for every way to write; else as the system calls it.
    path : str
        The file or folder, whole.
    to : str
        The new name of a renamed file.
    at : int
        Where bytes are written, or the new length.
    data : bytes
        What is written.
    flags : int
        Of an opening; the family of a socket.
    """

    name: str
    path: str = ""
    to: str = ""
    at: int = 0
    data: bytes = b""
    flags: int = 0


@dataclass
class Traced:
    """What became of a watched process: its exit code (negative: the signal), and its calls."""

    code: int = 0
    calls: list[Call] = field(default_factory=list)

    @property
    def changes(self) -> int:
        """How many calls changed files: at each of them the process can be ended."""
        return sum(call.name not in _NETWORK for call in self.calls)


@functools.cache
def available() -> bool:
    """Whether a process can be watched here."""
    if sys.platform != "linux" or platform.machine() != "x86_64":
        return False
    marker = Path("/proc/self/fd")
    try:
        return marker.exists() and any(c.name == "write" for c in watched(lambda: _harmless_write()).calls)
    except OSError:
        return False


def _harmless_write() -> int:
    with open(os.devnull, "wb", buffering=0) as file:
        file.write(b"x")
    return 0


def watched(
    run: Callable[[], int],
    *,
    out: Path | None = None,
    end_at: int | None = None,
    below: Path | None = None,
) -> Traced:
    """Fork, run a function in the new process, and watch it to its end.

    Parameters
    ----------
    run : callable
        Returns the exit code.
    out : path, optional
        The file that takes both streams.
    end_at : int, optional
        Kill the process when it is about to make this change, from 1.
    below : path, optional
        Count and log only changes of files in this folder, and what is written to the streams.
    """
    pid = os.fork()
    if pid == 0:
        _child(run, out)
    traced = Traced()
    os.waitpid(pid, 0)
    if _libc.ptrace(_SETOPTIONS, pid, None, _OPTIONS) != 0:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        raise OSError("a process cannot be watched here")
    _libc.ptrace(_CONT, pid, None, None)
    while True:
        try:
            task, status = os.waitpid(-1, _WALL)
        except ChildProcessError:
            return traced
        if os.WIFEXITED(status) or os.WIFSIGNALED(status):
            if task == pid:
                traced.code = os.WEXITSTATUS(status) if os.WIFEXITED(status) else -os.WTERMSIG(status)
            continue
        passed_on = 0
        if status >> 8 == _SECCOMP_STOP:
            call = _call(task, below, out)
            if call is not None:
                traced.calls.append(call)
                if end_at is not None and traced.changes == end_at and call.name not in _NETWORK:
                    os.kill(pid, signal.SIGKILL)
        elif status >> 16 == 0 and os.WSTOPSIG(status) not in (signal.SIGTRAP, signal.SIGSTOP):
            passed_on = os.WSTOPSIG(status)
        _libc.ptrace(_CONT, task, None, passed_on)


def forked(run: Callable[[], int], out: Path) -> int:
    """Run a function in a new process that nobody watches; return its exit code."""
    return os.waitstatus_to_exitcode(os.waitpid(begun(run, out), 0)[1])


def begun(run: Callable[[], int], out: Path) -> int:
    """Begin to run a function in a new process; return the process."""
    pid = os.fork()
    if pid == 0:
        _streams_to(out)
        _run_and_exit(run)
    return pid


def _child(run: Callable[[], int], out: Path | None) -> None:
    try:
        _streams_to(out)
        _libc.ptrace(_TRACEME, 0, None, None)
        os.kill(os.getpid(), signal.SIGSTOP)
        _filter()
    except BaseException:
        os._exit(97)
    _run_and_exit(run)


def _streams_to(out: Path | None) -> None:
    if out is not None:
        target = os.open(out, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_APPEND, 0o600)
        os.dup2(target, 1)
        os.dup2(target, 2)
        os.close(target)


def _run_and_exit(run: Callable[[], int]) -> None:
    code = 98
    try:
        code = run()
        sys.stdout.flush()
        sys.stderr.flush()
    except BaseException:
        traceback.print_exc()
        sys.stderr.flush()
    finally:
        os._exit(code)


class _Rule(ctypes.Structure):
    _fields_ = (
        ("code", ctypes.c_ushort),
        ("jt", ctypes.c_ubyte),
        ("jf", ctypes.c_ubyte),
        ("k", ctypes.c_uint),
    )


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("rules", ctypes.POINTER(_Rule)))


def _filter() -> None:
    """Let the calls of the table stop this process, and no others (see seccomp(2))."""
    numbers = list(_CALLS)
    rules = [_Rule(0x20, 0, 0, 0)]  # load the number of the call
    rules += [_Rule(0x15, len(numbers) - i, 0, number) for i, number in enumerate(numbers)]
    rules += [_Rule(0x06, 0, 0, 0x7FFF0000), _Rule(0x06, 0, 0, 0x7FF00000)]  # allow; tell the tracer
    program = _Program(len(rules), (_Rule * len(rules))(*rules))
    if _libc.prctl(38, 1, 0, 0, 0) or _libc.prctl(22, 2, ctypes.byref(program), 0, 0):
        raise OSError("no filter of system calls")


def _call(task: int, below: Path | None, out: Path | None) -> Call | None:
    """Return the call that a stopped task is about to make; None where it is about no file that is asked for."""
    registers = ctypes.create_string_buffer(27 * 8)
    _libc.ptrace(_GETREGS, task, None, ctypes.cast(registers, ctypes.c_void_p))
    values = struct.unpack("27q", registers.raw)
    name = _CALLS[values[15]]
    # Arguments are in rdi, rsi, rdx, r10, r8.
    args = (values[14], values[13], values[12], values[7], values[9])
    if name == "socket":
        return Call(name, flags=args[0])
    if name in ("connect", "bind"):
        family = struct.unpack("H", _memory(task, args[1], 2))[0]
        return Call(name, repr(_memory(task, args[1], args[2])[2:]), flags=family)
    call = _of_file(task, name, args)
    if call is None:
        return None
    place = call.to or call.path
    if out is not None and place == str(out):
        return call
    if below is not None and not any(f"{p}/".startswith(f"{below}/") for p in (call.path, call.to)):
        return None
    return call


def _of_file(task: int, name: str, args: tuple[int, ...]) -> Call | None:
    if name in ("open", "openat", "creat"):
        path, flags = (
            (_path(task, args[0], args[1]), args[2])
            if name == "openat"
            else (_path(task, None, args[0]), args[1])
        )
        if name == "creat":
            flags = os.O_CREAT | os.O_TRUNC
        return Call("open", path, flags=flags) if flags & (os.O_CREAT | os.O_TRUNC) else None
    if name == "rename":
        return Call("rename", _path(task, None, args[0]), _path(task, None, args[1]))
    if name in ("renameat", "renameat2"):
        return Call("rename", _path(task, args[0], args[1]), _path(task, args[2], args[3]))
    if name == "link":
        return Call("link", _path(task, None, args[0]), _path(task, None, args[1]))
    if name == "linkat":
        return Call("link", _path(task, args[0], args[1]), _path(task, args[2], args[3]))
    if name in ("unlink", "rmdir", "mkdir", "chmod"):
        return Call(name, _path(task, None, args[0]))
    if name == "truncate":
        return Call("ftruncate", _path(task, None, args[0]), at=args[1])
    if name in ("unlinkat", "mkdirat"):
        return Call(name.removesuffix("at"), _path(task, args[0], args[1]))
    path = _open_file(task, args[0])
    if name == "write":
        return Call("write", path, at=_position(task, args[0], path), data=_memory(task, args[1], args[2]))
    if name == "pwrite":
        return Call("write", path, at=args[3], data=_memory(task, args[1], args[2]))
    if name in ("writev", "pwritev"):
        data = b""
        for i in range(args[2]):
            data += _memory(task, *struct.unpack("QQ", _memory(task, args[1] + 16 * i, 16)))
        return Call(
            "write", path, at=args[3] if name == "pwritev" else _position(task, args[0], path), data=data
        )
    if name == "sendfile" or name == "copy_file_range":
        return Call(name, _open_file(task, args[2] if name == "copy_file_range" else args[0]))
    return Call(name, path, at=args[1] if name == "ftruncate" else 0)


def _memory(task: int, address: int, length: int) -> bytes:
    handle = os.open(f"/proc/{task}/mem", os.O_RDONLY)
    try:
        return os.pread(handle, length, address) if length else b""
    finally:
        os.close(handle)


def _path(task: int, folder: int | None, address: int) -> str:
    raw = b""
    while b"\0" not in raw:  # not beyond the end of a page, which may be the last
        at = address + len(raw)
        raw += _memory(task, at, 4096 - at % 4096)
    name = os.fsdecode(raw.split(b"\0")[0])
    if name.startswith("/"):
        return os.path.normpath(name)
    number = _AT_FDCWD if folder is None else ctypes.c_int(folder).value
    base = os.readlink(f"/proc/{task}/cwd") if number == _AT_FDCWD else _open_file(task, number)
    return os.path.normpath(os.path.join(base, name))


def _open_file(task: int, number: int) -> str:
    with contextlib.suppress(OSError):
        return os.readlink(f"/proc/{task}/fd/{number & 0xFFFFFFFF}")
    return ""


def _position(task: int, number: int, path: str) -> int:
    with contextlib.suppress(OSError, ValueError, IndexError):
        fields = dict(
            line.split(":\t", 1)
            for line in Path(f"/proc/{task}/fdinfo/{number}").read_text().splitlines()
            if ":\t" in line
        )
        if int(fields["flags"], 8) & os.O_APPEND:
            return os.stat(path).st_size
        return int(fields["pos"])
    return 0
