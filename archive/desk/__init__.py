"""The desk where pictures from strangers are opened: processes of their own, with bounds on memory and time.

A picture file can be made to harm the program that decodes it.  So no picture that comes in by a form is decoded by
the server: it is handed to a worker that may not write files, has so much memory and so many seconds, and is replaced
when it breaks.  What comes back are numbers::

    desk = Desk()
    reading = await desk.ask("study", data, True)        # DeskProblem with one clear sentence
    seen = await desk.ask("sheet", data, 1600, None, (), False, 12)

Who comes while all workers are busy stands in line; `Turn.place` says where.
"""

from archive.desk.line import Desk, DeskFull, Turn, standing
from archive.desk.seen import SeenPlace, SeenSheet
from archive.desk.worker import DeskProblem

__all__ = ["Desk", "DeskFull", "DeskProblem", "SeenPlace", "SeenSheet", "Turn", "standing"]
