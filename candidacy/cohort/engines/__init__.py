"""Engines that run the columns: an embedded one and a distributed one."""
