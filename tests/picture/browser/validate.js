// SPDX-License-Identifier: GPL-3.0-or-later
// Checks GLB files with the Khronos validator: prints its report, fails on any error or warning.
'use strict';
const fs = require('fs');
const validator = require('gltf-validator');

(async () => {
  for (const file of process.argv.slice(2)) {
    const report = await validator.validateBytes(new Uint8Array(fs.readFileSync(file)));
    console.log(file, JSON.stringify(report.issues));
    if (report.issues.numErrors + report.issues.numWarnings > 0) process.exitCode = 1;
  }
})();
