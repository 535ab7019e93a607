"""Reads every pixel of what a browser shows, on a page of its own that has nothing to do with the one that is looked at."""

from base64 import b64encode

from playwright.sync_api import BrowserContext

from server.core.screen_light import Rgb

_COUNT = """async (encoded) => {
  const bytes = Uint8Array.from(atob(encoded), (sign) => sign.charCodeAt(0));
  const image = await createImageBitmap(new Blob([bytes], { type: "image/png" }), { colorSpaceConversion: "none" });
  const pen = new OffscreenCanvas(image.width, image.height).getContext("2d", { willReadFrequently: true });
  pen.drawImage(image, 0, 0);
  const pixels = new Uint32Array(pen.getImageData(0, 0, image.width, image.height).data.buffer);
  const counts = new Map();
  for (const pixel of pixels) counts.set(pixel, (counts.get(pixel) ?? 0) + 1);
  return [...counts];
}"""


class Reader:
    def __init__(self, context: BrowserContext) -> None:
        self.page = context.new_page()

    def counts(self, picture: bytes) -> dict[Rgb, int]:
        """How many pixels a PNG has of each colour."""
        found = self.page.evaluate(_COUNT, b64encode(picture).decode())
        return {(pixel & 255, pixel >> 8 & 255, pixel >> 16 & 255): count for pixel, count in found}
