"""What commands share: options, output, failures, progress, tables, inputs."""
