"""The program that checks a bundle and is put into it. One file, read as text; nothing here imports it."""
