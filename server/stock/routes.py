"""Addresses of the stock pages."""

from fastapi import APIRouter

router = APIRouter()
