"""Addresses of the pages of limits and determinations."""

from fastapi import APIRouter

router = APIRouter()
