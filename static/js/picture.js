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
