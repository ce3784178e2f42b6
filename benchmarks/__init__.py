"""Speed and accuracy of the engine beside other solvers, on the same model and inputs."""
