// What a first visit of a page sends for, in bytes as they come over the line, pictures left out.
import { get } from "node:http";
import { deflateSync, inflateSync } from "node:zlib";

const taken = (url) => new Promise((resolve, reject) => {
  get(url, { headers: { accept: "text/html", "accept-encoding": "deflate" } }, (answer) => {
    const parts = [];
    answer.on("data", (part) => parts.push(part));
    answer.on("end", () => {
      const body = Buffer.concat(parts);
      const shrunk = answer.headers["content-encoding"] === "deflate";
      resolve({ body, shrunk, text: (shrunk ? inflateSync(body) : body).toString() });
    });
    answer.on("error", reject);
  }).on("error", reject);
});

export const weigh = async (url) => {
  const page = await taken(url);
  const bare = page.text.replace(/<svg[^]*?<\/svg>/g, "");
  let bytes = page.shrunk ? deflateSync(bare).length : Buffer.byteLength(bare);
  const loads = [`the page ${bytes}`];
  const all = [...page.text.matchAll(/<(?:script|link)[^>]*? (?:src|href)="([^"]+)"/g), ...page.text.matchAll(/ data-walk="([^"]+)"/g)];
  for (const [, at] of all) {
    if (at.includes(".svg")) continue;
    const { body } = await taken(new URL(at.replaceAll("&#38;", "&"), url));
    bytes += body.length;
    loads.push(`${at.split("?")[0]} ${body.length}`);
  }
  return { bytes, loads };
};
