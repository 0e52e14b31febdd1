// A photo is sized down on the device before it is kept and sent; what its file says of place and time is left behind here already.
"use strict";

const LONGEST = 1600;

async function reduced(file) {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" }); // upright, as its file says
    const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    const pen = canvas.getContext("2d");
    pen.fillStyle = "white";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/jpeg", 0.85);
  } catch {
    return null; // no picture, or of a kind that this browser does not know: the server says which it takes
  }
}

function blobOf(address) {
  const bytes = Uint8Array.from(atob(address.split(",")[1]), (each) => each.charCodeAt(0));
  return new Blob([bytes], { type: "image/jpeg" });
}

async function attach(input) {
  const form = input.form;
  const mark = input.closest("label");
  mark.classList.add("tapped");
  tell(form, "<p>Getting the photo ready …</p>");
  const file = input.files[0];
  const picture = await reduced(file);
  if (picture) enqueue(form, { key: "", fields: [], words: "photo", picture }, input);
  else {
    const answer = await ask(form.getAttribute("action"), bodyOf([["token", randomToken()]], file));
    tell(form, answer ? refusal(answer.text) : `<p>${SILENT}</p>`, "refused");
    if (answer?.reply.ok) load();
  }
  input.value = "";
  mark.classList.remove("tapped");
}

document.addEventListener("change", (event) => {
  const input = event.target.closest("form.photo input[type=file][name=photo]");
  if (input?.files.length) attach(input);
});
