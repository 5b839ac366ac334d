"""Peak memory of a process of its own, as a few lines that a measured script begins with.

What ``getrusage`` gives outlives the start of a new program: a child of a large process begins
with its parent's peak. The high-water mark of the address space begins anew.
"""

from __future__ import annotations

PEAK = """
def peak_mb():
    for line in open("/proc/self/status"):
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    raise OSError("no high-water mark in /proc/self/status")
"""
"""Defines ``peak_mb()``, in MiB; Linux only."""
