"""Boards and practice sheets as things to hand out: PDF, a page in one file, a contact sheet, a manifest, a table.

`content.resolve` looks a board's leaves up in the archive once; every other module here turns what it found into one
kind of file.  Each of them carries the source record of every work along.
"""
