"""The sink and the report of wire.sh."""
import http.server
import re
import sys

HEADERS = 66  # bytes a segment: Ethernet, IPv4, TCP with time stamps


class Sink(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def do_POST(self):
        if self.headers.get("Transfer-Encoding") == "chunked":
            while True:
                n = int(self.rfile.readline(), 16)
                self.rfile.read(n)
                self.rfile.readline()
                if n == 0:
                    break
        else:
            self.rfile.read(int(self.headers.get("Content-Length") or 0))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_):
        pass


def sink(file):
    server = http.server.HTTPServer(("127.0.0.1", 0), Sink)
    with open(file, "w") as f:
        f.write(str(server.server_port))
    server.serve_forever()


def counters(file):
    """Bytes and segments of every connection, by the port of the other end."""
    lines = open(file).read().split("\n")
    found, port = {}, None
    for line in lines[1:]:
        ends = re.search(r"127\.0\.0\.1:(\d+)\s+127\.0\.0\.1:(\d+)", line)
        if ends:
            port = ends.group(2)
        elif port and ("bytes_" in line or "segs_" in line):
            def count(key):
                m = re.search(key + r":(\d+)", line)
                return int(m.group(1)) if m else 0
            found[port] = (count("bytes_sent") + count("bytes_received"), count("segs_out") + count("segs_in"))
    return float(lines[0]), found


def report(config, port, first, last):
    sources, name, gauges, gauge = {}, None, {}, None
    for line in open(config):
        if m := re.match(r"  - name: (\S+)", line):
            name = m.group(1)
        if m := re.match(r"    (?:address: |endpoint: opc\.tcp://)127\.0\.0\.1:(\d+)", line):
            sources[m.group(1)] = name
        if m := re.match(r"  - tag: (\S+)", line):
            gauge = m.group(1)
        if m := re.match(r"\s+source: (\S+)", line):
            gauges.setdefault(m.group(1), set()).add(gauge)
    everything = set().union(*gauges.values())
    sources[port] = "forwarding"
    gauges["forwarding"] = everything
    (t1, before), (t2, after) = counters(first), counters(last)
    for p, (size, segments) in sorted(after.items()):
        if p not in sources or p not in before:
            continue
        n = len(gauges[sources[p]])
        size, segments = size - before[p][0], segments - before[p][1]
        payload, whole = size / (t2 - t1), (size + HEADERS * segments) / (t2 - t1)
        print(f"{sources[p]:<14} {n:3} gauges  {payload / n:7.0f} bytes/s a gauge of payload, {whole / n:7.0f} with headers")


if __name__ == "__main__":
    sink(sys.argv[2]) if sys.argv[1] == "sink" else report(*sys.argv[2:])
