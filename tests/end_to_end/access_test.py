"""Getting in and letting in: a record behind an authorisation server (SMART Backend Services), and an intake that speaks TLS and knows its senders.

The authorisation server stands in front of the real third-party FHIR server and reads our public keys where we serve them; another library (PyJWT) verifies.
"""
import http.server
import base64
import hmac
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import threading
import time
import unittest
import urllib.error
import urllib.parse
import urllib.request

try:
    import jwt
except ModuleNotFoundError:  # the distribution's own interpreter has the library, another one before it in the path has not
    if sys.executable == "/usr/bin/python3":
        raise
    os.execv("/usr/bin/python3", ["/usr/bin/python3", *sys.argv])

from support import PROGRAM, Daemon, clara, identity, peer, quiet, request, search, subscribe


class Guard(http.server.ThreadingHTTPServer):
    """A token endpoint, and a proxy before `behind` that lets nobody in without a token of its own."""

    def __init__(self, behind, life=300, grant=None):
        super().__init__(("127.0.0.1", 0), Handler)
        self.behind, self.life, self.grant = behind, life, grant
        self.base = f"http://127.0.0.1:{self.server_port}/fhir"
        self.jwks_url, self.out = None, False
        self.tokens, self.ids, self.kids, self.faults, self.refused, self.asked = {}, set(), set(), [], 0, 0
        self.algorithms = []
        threading.Thread(target=self.serve_forever, daemon=True).start()

    def handle_error(self, *_):
        pass  # the daemon stops with connections open

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.shutdown()
        self.server_close()

    def token(self, form):
        self.asked += 1
        assertion = form["client_assertion"]
        while self.jwks_url is None:  # the daemon may ask before the test knows where it listens
            time.sleep(0.02)
        key = jwt.PyJWKClient(self.jwks_url).get_signing_key_from_jwt(assertion)
        self.kids.add(key.key_id)
        claims = jwt.decode(assertion, key.key, algorithms=["RS384", "ES384"], audience=f"http://127.0.0.1:{self.server_port}/token", issuer="aftersheath-test")
        if claims["jti"] in self.ids:
            self.faults.append("jti used twice")
        self.ids.add(claims["jti"])
        self.algorithms.append(jwt.get_unverified_header(assertion)["alg"])
        made = f"token-{len(self.ids)}"
        self.tokens[made] = time.time() + self.life
        return {"access_token": made, "token_type": "bearer", "expires_in": self.life, "scope": self.grant or form["scope"]}


class Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *_):
        pass

    def answer(self, status, body, kind="application/json", headers=()):
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        for name, value in headers:
            self.send_header(name, value)
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def handle_any(self):
        guard = self.server
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        if self.path == "/fhir/.well-known/smart-configuration":
            return self.answer(200, json.dumps({"token_endpoint": f"http://127.0.0.1:{guard.server_port}/token", "token_endpoint_auth_methods_supported": ["private_key_jwt"],
                                                "token_endpoint_auth_signing_alg_values_supported": ["RS384", "ES384"]}).encode())
        if self.path == "/token":
            if guard.out:
                return self.answer(503, b'{"error":"temporarily_unavailable"}')
            try:
                return self.answer(200, json.dumps(guard.token(dict(urllib.parse.parse_qsl(body.decode())))).encode())
            except Exception as fault:  # noqa: BLE001  (whatever is wrong with the assertion)
                guard.faults.append(repr(fault))
                return self.answer(400, b'{"error":"invalid_client"}')
        held = self.headers.get("Authorization", "")
        if not held.startswith("Bearer ") or guard.tokens.get(held[7:], 0) < time.time():
            guard.refused += 1
            return self.answer(401, b"", headers=[("WWW-Authenticate", "Bearer")])
        onward = urllib.request.Request(guard.behind + self.path.removeprefix("/fhir"), data=body or None, method=self.command,
                                        headers={k: v for k, v in self.headers.items() if k.lower() not in ("host", "authorization", "content-length", "connection")})
        try:
            with urllib.request.urlopen(onward, timeout=60) as got:
                status, headers, text = got.status, got.headers, got.read()
        except urllib.error.HTTPError as error:
            status, headers, text = error.code, error.headers, error.read()
        mine = guard.base.encode()
        kept = [(k, v.replace(guard.behind, guard.base)) for k, v in headers.items() if k.lower() in ("etag", "location", "content-location", "last-modified", "date")]
        self.answer(status, text.replace(guard.behind.encode(), mine), headers.get("Content-Type", "application/fhir+json"), kept)

    do_GET = do_PUT = do_POST = do_DELETE = do_PATCH = do_HEAD = handle_any


def key_file(place, name, kind):
    file = pathlib.Path(place, name)
    how = ["ec", "-pkeyopt", "ec_paramgen_curve:P-384"] if kind == "P-384" else ["rsa", "-pkeyopt", "rsa_keygen_bits:2048"]
    subprocess.run(["openssl", "genpkey", "-algorithm", *how, "-out", str(file)], check=True, capture_output=True)
    return file


def access(**keys):
    return "[access]\n" + "".join(f'{name} = "{value}"\n' for name, value in keys.items())


class Access(unittest.TestCase):
    def play(self, daemon, base, steps):
        for step in steps:
            daemon.move_clock(step.at)
            status, answer = request("PUT", f"{base}/{step.resource['resourceType']}/{step.resource['id']}", step.resource)
            self.assertIn(status, (200, 201), answer)
            quiet(daemon, base)

    def evening(self, kind, life):
        """One patient's evening through the guard; tokens end in the middle of it."""
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base, Guard(base, life=life) as guard:
            key = key_file(place, "signing.pem", kind)
            with Daemon(place, record=guard.base, extra=access(kind="backend-services", client_id="aftersheath-test", key_file=key)) as daemon:
                guard.jwks_url = f"{daemon.public}/.well-known/jwks.json"
                subscribe(daemon, base)
                steps = clara()
                self.play(daemon, base, steps[:8])
                guard.tokens.clear()  # revoked
                self.play(daemon, base, steps[8:])
                status = quiet(daemon, base)
                self.assertEqual(guard.faults, [])
                self.assertEqual(status["record"]["access"]["kind"], "backend-services")
                self.assertIsNone(status["record"]["access"]["trouble"])
                self.assertEqual(status["record"]["access"]["notGranted"], [])
                self.assertGreater(len(guard.ids), 1, "tokens were renewed")
                self.assertEqual(len([p for p in search(base, "CarePlan") if p["status"] != "revoked"]), 1)
                for resource in ("Task", "CarePlan", "DocumentReference"):
                    identities = [identity(r) for r in search(base, resource)]
                    self.assertEqual(len(identities), len(set(identities)), f"{resource} written twice")
                log = (daemon.place / "daemon.log").read_text()
                for secret in ("Bearer", "token-1", "PRIVATE KEY", "client_assertion"):
                    self.assertNotIn(secret, log)
                    self.assertNotIn(secret, json.dumps(status))
                return guard

    def test_an_evening_with_an_elliptic_key(self):
        self.evening("P-384", 300)

    def test_an_evening_with_rsa_and_tokens_that_end_soon(self):
        guard = self.evening("RSA", 2)
        self.assertGreater(len(guard.ids), 2)

    def test_an_outage_of_the_token_server_loses_nothing(self):
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base, Guard(base) as guard:
            key = key_file(place, "signing.pem", "P-384")
            guard.out = True
            with Daemon(place, record=guard.base, extra=access(kind="backend-services", client_id="aftersheath-test", key_file=key)) as daemon:
                guard.jwks_url = f"{daemon.public}/.well-known/jwks.json"
                subscribe(daemon, base)
                for step in clara()[:8]:
                    daemon.move_clock(step.at)
                    request("PUT", f"{base}/{step.resource['resourceType']}/{step.resource['id']}", step.resource)
                request("POST", f"{base}/$peer/settle")
                time.sleep(1)
                status = daemon.status()
                self.assertEqual(search(base, "CarePlan"), [])
                self.assertGreater(status["writes"]["pending"], 0)
                self.assertTrue(any("answered 503" in alarm for alarm in status["alarms"]), status["alarms"])
                guard.out = False
                for _ in range(120):
                    if search(base, "CarePlan") and quiet(daemon, base)["writes"]["pending"] == 0:
                        break
                    time.sleep(0.5)
                self.assertEqual(len(search(base, "CarePlan")), 1)
                self.assertFalse(any("access to the record" in alarm for alarm in daemon.status()["alarms"]), daemon.status()["alarms"])

    def test_a_scope_that_is_not_granted_is_named_before_a_nurse_misses_it(self):
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base, Guard(base, grant="system/*.rs") as guard:
            key = key_file(place, "signing.pem", "P-384")
            with Daemon(place, record=guard.base, extra=access(kind="backend-services", client_id="aftersheath-test", key_file=key, scope="system/Patient.rs system/Task.crus")) as daemon:
                guard.jwks_url = f"{daemon.public}/.well-known/jwks.json"
                run = subprocess.run([PROGRAM, "check", "--config", str(daemon.place / "aftersheath.toml"), "--connect"], capture_output=True, text=True, timeout=60)
                self.assertIn("not granted: system/Task.cu", run.stderr)
                self.assertNotEqual(run.returncode, 0)

    def test_both_keys_are_published_while_one_takes_over(self):
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base, Guard(base) as guard:
            old, new = key_file(place, "old.pem", "RSA"), key_file(place, "new.pem", "P-384")
            before = access(kind="backend-services", client_id="aftersheath-test", key_file=old, next_key_file=new)
            with Daemon(place, record=guard.base, extra=before) as daemon:
                status, published = request("GET", f"{daemon.public}/.well-known/jwks.json")
                self.assertEqual(status, 200)
                self.assertEqual([k["kty"] for k in published["keys"]], ["RSA", "EC"])
                self.assertTrue(all(set(k).isdisjoint({"d", "p", "q"}) for k in published["keys"]))
            after = access(kind="backend-services", client_id="aftersheath-test", key_file=new, next_key_file=old)
            with Daemon(place, record=guard.base, extra=after) as daemon:
                again = request("GET", f"{daemon.public}/.well-known/jwks.json")[1]
                self.assertEqual({k["kid"] for k in again["keys"]}, {k["kid"] for k in published["keys"]})

    def test_the_next_key_takes_over_while_the_daemon_runs(self):
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base, Guard(base, life=5) as guard:
            signing, coming = pathlib.Path(key_file(place, "signing.pem", "RSA")), pathlib.Path(place, "coming.pem")
            extra = access(kind="backend-services", client_id="aftersheath-test", key_file=signing, next_key_file=coming)
            with Daemon(place, record=guard.base, extra=extra) as daemon:
                guard.jwks_url = f"{daemon.public}/.well-known/jwks.json"
                def published():
                    return [k["kty"] for k in request("GET", guard.jwks_url)[1]["keys"]]
                def tokens_after(count):
                    ends = time.monotonic() + 30
                    while len(guard.tokens) < count and time.monotonic() < ends:
                        request("POST", f"{daemon.admin}/look-again")
                        time.sleep(0.5)
                    return len(guard.tokens)
                self.assertEqual(published(), ["RSA"])
                first = tokens_after(1)
                self.assertGreaterEqual(first, 1)
                key_file(place, "made.pem", "P-384")
                os.rename(pathlib.Path(place, "made.pem"), coming)
                self.assertEqual(published(), ["RSA", "EC"])
                # Cut in half while it is being replaced: the key read before signs on, and somebody is told.
                kept = signing.read_bytes()
                signing.write_bytes(kept[:200])
                self.assertGreater(tokens_after(len(guard.tokens) + 1), first)
                self.assertTrue(any("still signs" in alarm for alarm in daemon.status()["alarms"]), daemon.status()["alarms"])
                os.rename(coming, signing)
                self.assertEqual(published(), ["EC"])
                before = len(guard.tokens)
                self.assertGreater(tokens_after(before + 1), before)
                self.assertEqual(guard.algorithms[-1], "ES384")
                self.assertFalse(any("still signs" in alarm for alarm in daemon.status()["alarms"]))

    def test_a_key_that_cannot_be_used_stops_the_start_with_a_reason(self):
        with tempfile.TemporaryDirectory() as place:
            pathlib.Path(place, "no.pem").write_text("no key")
            daemon = Daemon(place, record="http://127.0.0.1:9/fhir", extra=access(kind="backend-services", client_id="x", key_file="no.pem"))
            with self.assertRaisesRegex(AssertionError, "holds no unencrypted private key"):
                daemon.start()


class Intake(unittest.TestCase):
    def papers(self, place):
        def run(*words):
            subprocess.run(["openssl", *map(str, words)], check=True, capture_output=True, cwd=place)
        run("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", 2, "-subj", "/CN=invented authority", "-keyout", "ca.key", "-out", "ca.pem")
        for name, days in (("intake", 60), ("record", 2), ("kitchen", 2)):
            pathlib.Path(place, f"{name}.ext").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\n")
            run("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-subj", f"/O=Invented Hospital/CN={name}", "-keyout", f"{name}.key", "-out", f"{name}.csr")
            run("x509", "-req", "-in", f"{name}.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-days", days, "-extfile", f"{name}.ext", "-out", f"{name}.pem")

    def test_only_known_senders_are_heard(self):
        with tempfile.TemporaryDirectory() as place:
            self.papers(place)
            daemon = Daemon(place)
            file = daemon.place / "aftersheath.toml"
            file.write_text(file.read_text().replace('public = "127.0.0.1:0"', 'public = "0.0.0.0:0"\ntls_certificate = "intake.pem"\ntls_key = "intake.key"\ntls_client_ca = "ca.pem"\n'
                                                     'tls_client_subjects = "CN=record,O=Invented Hospital"'))
            with daemon:
                port = daemon.public.rsplit(":", 1)[1]
                steps = clara()[:3]
                daemon.move_clock(steps[-1].at)

                def put(name, resource):
                    shown = ["--cert", f"{name}.pem", "--key", f"{name}.key"] if name else []
                    return subprocess.run(["curl", "-sS", "-o", "/dev/null", "-w", "%{http_code}", "--cacert", "ca.pem", *shown, "-X", "PUT", "-H", "Content-Type: application/fhir+json",
                                           "--data-binary", json.dumps(resource), f"https://localhost:{port}/fhir/{resource['resourceType']}/{resource['id']}"],
                                          cwd=place, capture_output=True, text=True, timeout=60).stdout
                for step in steps:
                    self.assertEqual(put("record", step.resource), "200")
                    self.assertEqual(put("kitchen", step.resource), "000")
                    self.assertEqual(put("", step.resource), "000")
                status = daemon.settle()
                self.assertEqual(status["events"]["received"], 3)
                self.assertGreater(status["certificateSeconds"], 50 * 86400)
                self.assertEqual(status["alarms"], [])
                self.assertIn("kitchen", (daemon.place / "daemon.log").read_text())

    def test_a_sender_proves_who_it_is(self):
        with tempfile.TemporaryDirectory() as place:
            pathlib.Path(place, "keys.txt").write_text("# first-secret-of-the-sender\nsecond-secret-of-the-sender\n")
            daemon = Daemon(place)
            file = daemon.place / "aftersheath.toml"
            file.write_text(file.read_text().replace('public = "127.0.0.1:0"', 'public = "127.0.0.1:0"\nsecret_file = "keys.txt"'))
            with daemon:
                patient = clara()[0].resource
                at = f"{daemon.public}/fhir/{patient['resourceType']}/{patient['id']}"
                status, answer = request("PUT", at, patient)
                self.assertEqual((status, answer["resourceType"]), (401, "OperationOutcome"))
                self.assertEqual(request("PUT", at, patient, {"X-Sender-Key": "guessed"})[0], 401)
                self.assertEqual(request("PUT", at, patient, {"X-Sender-Key": "# first-secret-of-the-sender"})[0], 401)
                self.assertEqual(request("PUT", at, patient, {"X-Sender-Key": "second-secret-of-the-sender"})[0], 200)
                self.assertEqual(daemon.settle()["events"]["received"], 1)
                pathlib.Path(place, "keys.txt").write_text("third-secret-of-the-sender\n")
                time.sleep(1.2)
                self.assertEqual(request("PUT", at, patient, {"X-Sender-Key": "second-secret-of-the-sender"})[0], 401, "taken out, it lets nobody in")
                self.assertEqual(request("PUT", at, patient, {"X-Sender-Key": "third-secret-of-the-sender"})[0], 200)
                self.assertNotIn("second-secret", (daemon.place / "daemon.log").read_text())

    def test_a_sender_signs_what_it_sends(self):
        """webhook-signature: HMAC-SHA256 over id, time and body as the open webhook conventions have it; computed here with Python's own hmac."""
        secret = "of-the-invented-engine-0123456789"
        with tempfile.TemporaryDirectory() as place:
            pathlib.Path(place, "signing.txt").write_text(secret + "\n")
            daemon = Daemon(place)
            file = daemon.place / "aftersheath.toml"
            plain = file.read_text()
            file.write_text(plain.replace("[listen]\n", '[listen]\nsignature_secret_file = "signing.txt"\nsignature_header = "X-Hub-Signature"\n', 1))
            check = subprocess.run([PROGRAM, "check", "--config", file], capture_output=True, text=True, timeout=60)
            self.assertEqual(check.returncode, 0, check.stderr)
            self.assertIn("can be sent again at any time", check.stderr)
            file.write_text(plain.replace("[listen]\n", '[listen]\nsignature_secret_file = "signing.txt"\n', 1))
            check = subprocess.run([PROGRAM, "check", "--config", file], capture_output=True, text=True, timeout=60)
            self.assertNotIn("can be sent again", check.stderr)
            with daemon:
                patient = clara()[0].resource
                body = json.dumps(patient).encode()

                def send(number, age=0, key=secret, sent=body):
                    at = str(int(time.time()) - age)
                    signature = base64.b64encode(hmac.new(key.encode(), f"{number}.{at}.".encode() + body, "sha256").digest()).decode()
                    asked = urllib.request.Request(f"{daemon.public}/fhir/{patient['resourceType']}/{patient['id']}", data=sent, method="PUT", headers={
                        "Content-Type": "application/fhir+json", "webhook-id": number, "webhook-timestamp": at, "webhook-signature": f"v1,{signature}"})
                    try:
                        return urllib.request.urlopen(asked).status
                    except urllib.error.HTTPError as refused:
                        return refused.code
                self.assertEqual(send("m1", key="guessed"), 401)
                self.assertEqual(send("m1", age=301), 401, "recorded five minutes ago")
                self.assertEqual(send("m1", age=-305), 401)
                self.assertEqual(send("m1", sent=body.replace(b"clara", b"clare", 1)), 401)
                self.assertEqual(request("PUT", f"{daemon.public}/fhir/Patient/clara", patient)[0], 401)
                self.assertEqual(daemon.settle()["events"]["received"], 0)
                self.assertEqual(send("m1", age=10), 200)
                self.assertEqual(send("m1", age=8), 200, "tried again, signed anew: a repeat is no failure")
                self.assertEqual(daemon.settle()["events"]["received"], 1, "and taken once")
                self.assertNotIn(secret, (daemon.place / "daemon.log").read_text() + json.dumps(daemon.status()))


if __name__ == "__main__":
    unittest.main(verbosity=2)
