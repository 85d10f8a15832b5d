// Starts the worker that keeps the page where the wifi ends. Nothing else on the page needs this.
"use strict";

if ("serviceWorker" in navigator) {
  const { serviceWorker } = navigator;
  const send = () => serviceWorker.controller && serviceWorker.controller.postMessage("send");
  serviceWorker.register("/worker.js").catch(() => null);
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.hidden || send());
  serviceWorker.addEventListener("message", () => document.querySelector(".away") && location.reload());
}
