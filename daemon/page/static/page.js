// Starts the worker that keeps the page where the wifi ends, and makes photographs smaller before
// they are sent. Nothing else on the page needs this.
"use strict";

if ("serviceWorker" in navigator) {
  const { serviceWorker } = navigator;
  const send = () => serviceWorker.controller && serviceWorker.controller.postMessage("send");
  serviceWorker.register("/worker.js").catch(() => null);
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.hidden || send());
  serviceWorker.addEventListener("message", () => document.querySelector(".away") && location.reload());
}

const MOST_PX = 960;

async function smaller(field) {
  const [photograph] = field.files;
  const drawn = photograph && (await createImageBitmap(photograph).catch(() => null));
  if (!drawn) return;
  const scale = Math.min(1, MOST_PX / Math.max(drawn.width, drawn.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(drawn.width * scale);
  canvas.height = Math.round(drawn.height * scale);
  canvas.getContext("2d").drawImage(drawn, 0, 0, canvas.width, canvas.height);
  const small = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.8); });
  const held = new DataTransfer();
  held.items.add(new File([small], "photograph.jpg", { type: "image/jpeg" }));
  field.files = held.files;
}

for (const field of document.querySelectorAll("input[type=file]")) field.addEventListener("change", () => smaller(field));
