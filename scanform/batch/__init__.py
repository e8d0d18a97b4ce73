"""Carry pages through the rooms with workers, and account for every one."""

from scanform.batch.binder_templates import templates_for
from scanform.batch.run import BatchResult, Stack, gather, read_stack
from scanform.batch.worker import CarriedPage, Task

__all__ = ["BatchResult", "CarriedPage", "Stack", "Task", "gather", "read_stack", "templates_for"]
