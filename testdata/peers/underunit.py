"""Runs a program under the system call filter of a systemd unit.

usage: underunit.py UNIT PROGRAM ARGUMENTS...

The names of the sets come from systemd-analyze, the filter is libseccomp's. A
system call the unit does not allow kills the program (SIGSYS), whatever
SystemCallErrorNumber= says: what the program needs must be allowed. As root it
runs as nobody, like a unit with DynamicUser=, without further privileges.
"""
import ctypes
import os
import socket
import subprocess
import sys

import seccomp


def system_call_sets():
    """The sets systemd knows, by name: "@clock" and so on."""
    text = subprocess.run(["systemd-analyze", "syscall-filter", "--no-pager"], capture_output=True, text=True, check=True).stdout
    sets, current = {}, None
    for line in text.splitlines():
        word = line.strip()
        if not word or word.startswith("#"):
            continue
        if not line.startswith(" "):
            current = sets.setdefault(word.split()[0], [])
        else:
            current.append(word)
    return sets


def allowed(unit, sets):
    """Calls and address families a unit allows (systemd.exec(5), SystemCallFilter=)."""

    def members(word):
        if not word.startswith("@"):
            return {word}
        return set().union(*(members(w) for w in sets[word]))

    calls, families = members("@default"), []
    with open(unit) as lines:
        for line in lines:
            key, _, value = line.strip().partition("=")
            if key == "SystemCallFilter":
                listed = set().union(*(members(w) for w in value.lstrip("~").split()))
                calls = calls - listed if value.startswith("~") else calls | listed
            elif key == "RestrictAddressFamilies":
                families += [getattr(socket, f) for f in value.split()]
    return calls, families


def main():
    unit, program, arguments = sys.argv[1], sys.argv[2], sys.argv[3:]
    calls, families = allowed(unit, system_call_sets())
    binary = os.open(program, os.O_RDONLY)  # nobody need not reach it by its path
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    restrict = seccomp.SyscallFilter(seccomp.KILL_PROCESS)
    for call in sorted(calls | {"execveat"}):  # the last one starts the program
        try:
            if call == "socket" and families:
                for family in families:
                    restrict.add_rule(seccomp.ALLOW, call, seccomp.Arg(0, seccomp.EQ, int(family)))
            else:
                restrict.add_rule(seccomp.ALLOW, call)
        except (RuntimeError, ValueError):
            pass  # not a call of this architecture
    ctypes.CDLL(None).prctl(38, 1, 0, 0, 0)  # PR_SET_NO_NEW_PRIVS
    restrict.load()
    os.execve(binary, [os.path.basename(program)] + arguments, dict(os.environ, HOME=os.getcwd()))


main()
