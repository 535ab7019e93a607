"""Addresses of the waste pages."""

from fastapi import APIRouter

router = APIRouter()
