"""How marks are made: pictures as data, outlines, typefaces and looks.

Knows no music, no file format and no clock."""
