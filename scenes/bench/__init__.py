"""Every number to build a wrap by: cut plan, marks, thread, finish, weight, time, order of work."""

from scenes.bench.whole import bench_of

__all__ = ["bench_of"]
