// A photo of the plot: made smaller on the phone, so that it is soon sent, and kept as text.

import { button, part } from "/plots/parts.js";

const LONGEST_SIDE_PX = 1600;
const QUALITY = 0.88;
const LARGEST_BYTES = 16_000_000; // of a file that this browser cannot make smaller

// The picture upright and without what the camera wrote beside it; null where it is no picture here.
async function smaller(file) {
  let bitmap = null;
  try {
    bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
    const share = Math.min(1, LONGEST_SIDE_PX / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(bitmap.width * share));
    canvas.height = Math.max(1, Math.round(bitmap.height * share));
    const pen = canvas.getContext("2d");
    pen.fillStyle = "white";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    return await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  } catch {
    return null;
  } finally {
    bitmap?.close();
  }
}

const asText = (blob) =>
  new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(blob);
  });

// The photo as text, or null where it is too large; the farm's computer says what else is wrong.
export async function photoText(file) {
  const sent = (await smaller(file)) ?? file;
  return sent.size > LARGEST_BYTES ? null : asText(sent);
}

// A button that opens the camera, and a line that says what became of the photos.
export function photoControl(taken) {
  const field = part("input", {
    id: "photo", type: "file", accept: "image/*", capture: "environment", hidden: true,
  });
  field.addEventListener("change", () => {
    const [file] = field.files;
    field.value = ""; // so that the same one can be chosen again
    if (file) taken(file);
  });
  return part(
    "div", { class: "photo" },
    field,
    button("Photo", () => field.click()),
    part("span", { id: "photos", role: "status", class: "note" }),
  );
}
