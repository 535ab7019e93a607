"""Addresses of the safety pages."""

from fastapi import APIRouter

router = APIRouter()
