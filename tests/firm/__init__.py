"""Firmness of outcomes and standings."""
