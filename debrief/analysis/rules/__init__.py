"""The rules of ``[start]``, ``[starter]`` and ``[abort]``: each makes its events."""
