// Reads variables of an OPC UA server with node-opcua and prints one JSON
// object: node -> {value, status, sourceTime, type}. The nodes are given as
// namespace URI and identifier, so the namespace array is read as well.
//
//   node opcua_read.js opc.tcp://host:port URI s=Name i=123 ...
"use strict";
const { OPCUAClient, AttributeIds, MessageSecurityMode, SecurityPolicy, DataType } = require("node-opcua");

async function main() {
  const [endpoint, uri, ...identifiers] = process.argv.slice(2);
  const client = OPCUAClient.create({
    endpointMustExist: false,
    securityMode: MessageSecurityMode.None,
    securityPolicy: SecurityPolicy.None,
    connectionStrategy: { maxRetry: 1 },
  });
  await client.connect(endpoint);
  const session = await client.createSession();
  const namespaces = await session.readNamespaceArray();
  const index = namespaces.indexOf(uri);
  if (index < 0) throw new Error("namespace " + uri + " is not in " + JSON.stringify(namespaces));
  const answers = await session.read(
    identifiers.map((id) => ({ nodeId: "ns=" + index + ";" + id, attributeId: AttributeIds.Value })));
  const out = {};
  identifiers.forEach((id, i) => {
    const a = answers[i];
    out[id] = {
      value: a.value ? a.value.value : null,
      type: a.value ? DataType[a.value.dataType] : "",
      status: a.statusCode.name,
      sourceTime: a.sourceTimestamp ? a.sourceTimestamp.toISOString() : "",
    };
  });
  console.log(JSON.stringify(out));
  await session.close();
  await client.disconnect();
}

main().then(() => process.exit(0), (err) => { console.error(err.message); process.exit(1); });
