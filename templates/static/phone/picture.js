// A picture made smaller on the phone before it is kept and sent; redrawing it also leaves its place and time behind.

const SIDE_PX = 1600;
const QUALITY = 0.82;

export async function smaller(file) {
  try {
    const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, SIDE_PX / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(bitmap.width * scale);
    canvas.height = Math.round(bitmap.height * scale);
    canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
    return blob ? { blob, name: "picture.jpg" } : { blob: file, name: file.name };
  } catch (unreadable) {
    return { blob: file, name: file.name }; // the book says whether it can read it
  }
}
