"""Every number and line to build a wrap by: thread, finish, weight, time, pattern, steps."""
