"""Addresses of the pages of the rules of waste law."""

from fastapi import APIRouter

router = APIRouter()
