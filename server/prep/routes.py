"""Addresses of the prep pages."""

from fastapi import APIRouter

router = APIRouter()
