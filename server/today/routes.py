"""Addresses of the today pages."""

from fastapi import APIRouter

router = APIRouter()
