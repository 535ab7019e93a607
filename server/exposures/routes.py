"""Addresses of the exposures pages."""

from fastapi import APIRouter

router = APIRouter()
