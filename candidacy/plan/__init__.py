"""Dates around a procedure: which medicines are held, until when, and what must be agreed first."""
