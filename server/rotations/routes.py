"""Addresses of the rotations pages."""

from fastapi import APIRouter

router = APIRouter()
