"""Addresses of the chemistry pages."""

from fastapi import APIRouter

router = APIRouter()
