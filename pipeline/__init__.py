"""From a study file to results: port basis, choke and line algebra, metrics, report."""
