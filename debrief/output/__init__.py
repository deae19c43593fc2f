"""The one door for everything that writes a file.

`write_output` and `writing_output` for what a person asked for, which replaces only what it would be itself;
`debrief.output.private` for the files of the user's own folder.
"""

from debrief.output.door import Output, check_output, is_stream, write_output, write_outputs, writing_output
from debrief.output.kinds import Kind

__all__ = [
    "Kind",
    "Output",
    "check_output",
    "is_stream",
    "write_output",
    "write_outputs",
    "writing_output",
]
