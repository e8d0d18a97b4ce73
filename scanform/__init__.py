"""scanform: daily machine check sheets from paper to record.

Each package below is a room with one job; a page goes through them in this order:
``form``, ``press``, ``intake``, ``locate``, ``read``, ``settle``, ``binder``, ``batch``, ``report``.
"""

__version__ = "0.1.0"
