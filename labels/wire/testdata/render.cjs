// Renders ZPL jobs with the npm package zpl-renderer-js. It is run by a test:
//
//	node render.cjs PACKAGE-FOLDER LIST
//
// LIST is a JSON file: [{"in": "a.zpl", "out": "a.png", "widthMM": 50, "heightMM": 25, "dotsPerMM": 8}, …].
const fs = require("fs");

(async () => {
  const [, , folder, list] = process.argv;
  const { api } = await require(folder).ready;
  for (const job of JSON.parse(fs.readFileSync(list, "utf8"))) {
    const zpl = fs.readFileSync(job.in, "latin1");
    const png = await api.zplToBase64Async(zpl, job.widthMM, job.heightMM, job.dotsPerMM);
    fs.writeFileSync(job.out, Buffer.from(png, "base64"));
  }
  process.exit(0); // the package's own runtime would keep the process waiting
})().catch((problem) => {
  console.error(problem);
  process.exit(1);
});
