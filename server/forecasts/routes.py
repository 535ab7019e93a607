"""Addresses of the pages of the forecast."""

from fastapi import APIRouter

router = APIRouter()
