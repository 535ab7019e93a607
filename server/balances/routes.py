"""Addresses of the pages of balances of days, classes and terms."""

from fastapi import APIRouter

router = APIRouter()
