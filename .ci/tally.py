"""Counts the tests in a JUnit file: prints 'PASSED FAILED SKIPPED', then 'NAME: REASON' for each skipped test."""

import sys
import xml.etree.ElementTree as ElementTree


def main(path: str) -> None:
    passed = failed = 0
    skipped = []
    for case in ElementTree.parse(path).iter("testcase"):
        skip = case.find("skipped")
        # CTest marks a test that could not run (a missing program, say) by its status alone.
        if case.find("failure") is not None or case.find("error") is not None or case.get("status") == "fail":
            failed += 1
        elif skip is not None or case.get("status") in ("notrun", "disabled"):
            reason = (skip.get("message") if skip is not None else None) or "did not run"
            skipped.append(f"{case.get('classname')}.{case.get('name')}: {' '.join(reason.split())}")
        else:
            passed += 1
    print(passed, failed, len(skipped))
    print("\n".join(skipped))


main(sys.argv[1])
