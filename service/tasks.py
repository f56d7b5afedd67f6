"""Celery tasks: each takes ids and makes one call."""
