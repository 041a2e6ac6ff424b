"""What is out of date: targets, their keys, the store and the making.

Knows lessons and files; decides what is made, never how it looks."""
