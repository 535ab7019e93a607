"""Addresses of the runs pages."""

from fastapi import APIRouter

router = APIRouter()
