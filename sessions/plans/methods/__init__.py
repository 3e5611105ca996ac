"""The blind methods, one a module; `table` lists them. Nothing else in the program branches on a method's name."""
