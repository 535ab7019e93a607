// Makes a picture small, upright and free of what the camera wrote into it before it waits in the outbox. Where the browser can't
// read it, it goes as it is: the server does the same once more, and refuses what is no picture.
"use strict";

const LONGEST_SIDE_PX = 1600;
const JPEG_QUALITY = 0.85;

async function redrawn(picture) {
  const upright = await createImageBitmap(picture, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_SIDE_PX / Math.max(upright.width, upright.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(upright.width * scale));
  canvas.height = Math.max(1, Math.round(upright.height * scale));
  const pen = canvas.getContext("2d");
  pen.imageSmoothingQuality = "high";
  pen.drawImage(upright, 0, 0, canvas.width, canvas.height);
  upright.close();
  return new Promise((resolve, reject) => {
    canvas.toBlob((made) => (made ? resolve(made) : reject(new Error("nothing was drawn"))), "image/jpeg", JPEG_QUALITY);
  });
}

// The chosen picture as it will be filed. Drawn and not linked, because the page may show nothing from elsewhere.
document.addEventListener("change", async (event) => {
  const field = event.target;
  const preview = document.getElementById("preview");
  if (!preview || field.type !== "file") return;
  preview.hidden = true;
  try {
    const small = await createImageBitmap(await redrawn(field.files[0]));
    preview.width = small.width;
    preview.height = small.height;
    preview.getContext("2d").drawImage(small, 0, 0);
    preview.hidden = false;
  } catch {
    // The browser can't read it; the server says what is wrong with it.
  }
});

// The picture of the form's field `name`, as the outbox keeps it.
async function smaller(name, picture) {
  let made;
  try {
    made = await redrawn(picture);
  } catch {
    made = picture;
  }
  return { name, type: made.type, bytes: await made.arrayBuffer() };
}
